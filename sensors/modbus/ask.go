package modbus

import (
	"bytes"
	"errors"
	"fmt"
	"time"

	"simmerline/sensors"
)

// retries is how often a question is put again after a bad frame, or when the
// device says it is busy.
const retries = 2

var errNoAnswer = errors.New("modbus: no answer in time")

// ask puts one question, again after a bad frame, and counts what is refused.
func (d *Driver) ask(w *wire, request Request, faults *sensors.Faults) ([]byte, error) {
	for attempt := 0; ; attempt++ {
		data, err := d.attempt(w, request)
		if err == nil {
			return data, nil
		}
		count(faults, err)
		var refusal Exception
		refused := errors.As(err, &refusal)
		if !onTheWire(err) || errors.Is(err, errNoAnswer) || refused && refusal != exceptionBusy {
			return nil, err
		}
		if quietErr := w.quiet(); quietErr != nil {
			return nil, quietErr
		}
		if attempt == retries || w.spent() {
			return nil, err
		}
	}
}

// attempt sends the request and listens for its reply.
func (d *Driver) attempt(w *wire, request Request) ([]byte, error) {
	if err := w.link.Discard(); err != nil {
		return nil, err
	}
	d.sent = request.AppendFrame(d.sent[:0])
	if err := w.link.Write(d.sent); err != nil {
		return nil, err
	}
	d.received = d.received[:0]
	wait, deadline, stage := d.timeout, time.Duration(0), nothingYet
	for {
		n, err := w.hear(d.received[len(d.received):cap(d.received)], wait)
		if n == 0 && err != nil && !errors.Is(err, sensors.ErrTimeout) {
			return nil, err
		}
		d.received = d.received[:len(d.received)+n]
		data, echoed, replyErr := findReply(request, d.sent, d.received, d.config.Echo)
		if !errors.Is(replyErr, ErrIncomplete) {
			return data, replyErr
		}
		// One time-out from the request, or from its echo, to the first byte of
		// the answer, and one more to its last.
		if now := stageOf(len(d.received), echoed); now > stage {
			stage, deadline = now, w.now+d.timeout
		}
		wait = w.within(deadline - w.now)
		if n == 0 || wait <= 0 {
			return nil, unfinished(d.sent, d.received, echoed, d.config.Echo)
		}
	}
}

// How far an answer has come.
const (
	nothingYet = iota
	begun
	echoComplete
	begunBehindEcho
)

func stageOf(received int, echoed bool) int {
	switch {
	case received == 0:
		return nothingYet
	case !echoed:
		return begun
	case received == requestLength:
		return echoComplete
	default:
		return begunBehindEcho
	}
}

// findReply looks for the reply in all that came since the request was sent.
// Its error is ErrIncomplete while more must come. Echoed says that the whole
// echo of the request has been seen and passed over.
func findReply(request Request, sent, got []byte, mode sensors.EchoMode) (data []byte, echoed bool, err error) {
	if mode != sensors.EchoOff {
		alike := bytes.HasPrefix(sent, got) || bytes.HasPrefix(got, sent)
		switch {
		case alike && len(got) < len(sent):
			return nil, false, ErrIncomplete
		case alike:
			echoed, got = true, got[len(sent):]
		case mode == sensors.EchoOn:
			return nil, false, errMangledEcho
		}
	}
	length, err := request.ReplyLength(got)
	if err != nil {
		return nil, echoed, err
	}
	if len(got) < length {
		return nil, echoed, ErrIncomplete
	}
	data, err = request.ParseReply(got[:length])
	return data, echoed, err
}

var errMangledEcho = fmt.Errorf("%w: the echo is not what was sent", ErrWrongAnswer)

// unfinished says what it means when nothing more comes.
func unfinished(sent, got []byte, echoed bool, mode sensors.EchoMode) error {
	switch {
	case len(got) == 0 || echoed && len(got) == len(sent):
		return errNoAnswer
	case mode != sensors.EchoOff && len(got) >= headerLength && bytes.HasPrefix(sent, got):
		return errMangledEcho
	default:
		return ErrIncomplete
	}
}

// onTheWire tells trouble on the wire, which is counted and lived with, from a
// failure of the link, which ends the exchange.
func onTheWire(err error) bool {
	var refusal Exception
	return errors.Is(err, errNoAnswer) || errors.Is(err, ErrCRC) || errors.Is(err, ErrWrongAnswer) ||
		errors.Is(err, ErrIncomplete) || errors.As(err, &refusal)
}

// count notes what was refused.
func count(faults *sensors.Faults, err error) {
	var refusal Exception
	switch {
	case errors.Is(err, errNoAnswer):
		faults.NoAnswer++
	case errors.Is(err, ErrCRC):
		faults.BadChecksum++
	case errors.Is(err, ErrWrongAnswer):
		faults.WrongAnswers++
	case errors.Is(err, ErrIncomplete):
		faults.Malformed++
	case errors.As(err, &refusal):
		faults.Exceptions++
	}
}

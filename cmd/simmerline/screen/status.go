package screen

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"simmerline/hub/record"
	"simmerline/rules"
	"simmerline/sensors"
)

// restartShown is how long into a run it is told how the run began.
const restartShown = 15 * time.Minute

// noticeLines are what must be known beside the alarms: that a silence has
// ended, that the hub does not protect yet, how this run began.
func (d drawing) noticeLines() []line {
	var lines []line
	say := func(i ink, t string) {
		for n, row := range wrap(t, d.width-2) {
			rank := rankAlarm
			if n > 0 {
				rank = rankTrouble
			}
			lines = append(lines, text(rank, i, " "+row))
		}
	}
	if r := d.returned; r.lasted > 0 && d.now-r.endedAt < returnStays && !d.old() {
		t := "The hub is heard again: it was silent for " + lasted(r.lasted) + ", since " + clockTime(r.from, d.options.Zone) + "."
		if d.missed {
			t += " Some of what happened in that time could not be found again."
		}
		say(strongInk, t)
	}
	if words := protectionWords(d.snapshot.Protection.Missing, d.snapshot.View); !d.snapshot.Protection.Complete && words != "" {
		if left := d.snapshot.Protection.ReadyIn; left > 0 {
			words += ", " + countdown(left)
		}
		say(strongInk, "NOT PROTECTING YET: "+words)
	}
	if s := d.snapshot.Start; s.After && s.Means != "" && d.snapshot.At < restartShown {
		say(plainInk, Printable(s.Means))
	}
	if !d.snapshot.View.InUse {
		say(strongInk, "The bench is put away: its sensors call nobody until a bath warms or gas is found.")
	}
	return lines
}

// protectionWords put what is missing into few words: where every cell of the
// fume head has the same trouble, the head has it.
func protectionWords(missing []string, v rules.View) string {
	var gases []string
	trouble, same := "", true
	for _, c := range v.Channels {
		if c.Quantity != sensors.GasLevel {
			continue
		}
		of := func(phrase string) bool { return strings.HasPrefix(phrase, c.Title()+" ") }
		i := slices.IndexFunc(missing, of)
		if i < 0 {
			same = false
			continue
		}
		what := strings.TrimPrefix(missing[i], c.Title()+" ")
		same = same && (trouble == "" || trouble == what)
		trouble = what
		gases = append(gases, missing[i])
	}
	var words []string
	if same && len(gases) > 1 {
		words = append(words, "fume head "+trouble)
	}
	for _, phrase := range missing {
		if !(same && len(gases) > 1 && slices.Contains(gases, phrase)) {
			words = append(words, phrase)
		}
	}
	return Printable(strings.Join(words, ", "))
}

// troubleLines are what is not well in the hub itself.
func (d drawing) troubleLines() []line {
	var lines []line
	away := d.snapshot.View.Advice.KeepAway
	say := func(words, mend string) {
		if mend = Printable(mend); mend != "" && !away {
			words += ": " + mend
		}
		for n, row := range wrap(words, d.width-2) {
			if n < 2 {
				lines = append(lines, text(rankTrouble, strongInk, " "+row))
			}
		}
	}
	for _, p := range d.snapshot.Ports {
		if p.State != sensors.PortOpen {
			say("port "+Printable(p.Port)+" "+p.State.String(), p.Detail)
		}
	}
	if s := d.snapshot.Sound; !s.CanSound {
		say("THIS HUB CAN MAKE NO SOUND", strings.TrimPrefix(s.Detail, "this hub can make no sound: "))
	}
	if r := d.snapshot.Record; !r.Recording || r.Fails != "" {
		say("THE RECORD IS NOT KEPT", r.Fails)
	}
	return lines
}

// statusLines are what is as usual, in as few rows as it takes.
func (d drawing) statusLines() []line {
	s := d.snapshot
	parts := []string{"no session"}
	if s.Session != nil {
		name := ""
		if s.Session.StartedHow == record.ByCommand {
			name = " “" + Printable(s.Session.Name) + "”"
		}
		parts[0] = "session" + name + " since " + clockTime(s.Session.StartWall, d.options.Zone)[:5]
	}
	if s.Record.Recording && s.Record.Fails == "" {
		parts = append(parts, "recording")
	}
	if s.Record.Dropped > 0 {
		parts = append(parts, fmt.Sprintf("%d readings not kept", s.Record.Dropped))
	}
	if s.Sound.CanSound {
		parts = append(parts, "sound: "+Printable(s.Sound.By))
	}
	well, refused := 0, uint64(0)
	for _, p := range s.Ports {
		if p.State == sensors.PortOpen {
			well++
		}
		refused += p.Faults.Total()
	}
	ports := fmt.Sprintf("%d of %d ports well", well, len(s.Ports))
	if well == len(s.Ports) {
		ports = fmt.Sprintf("%d ports well", well)
	}
	if refused > 0 {
		ports += fmt.Sprintf(" (%d refused)", refused)
	}
	parts = append(parts, ports)
	if d.options.Mute {
		parts = append(parts, "this screen is mute")
	} else {
		parts = append(parts, "screen rings")
	}
	var lines []line
	for _, row := range wrap(strings.Join(parts, " · "), d.width-2) {
		lines = append(lines, text(rankStatus, plainInk, " "+row))
	}
	return lines
}

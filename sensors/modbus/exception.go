package modbus

import "fmt"

// Exception is the code by which a device refuses a request (V1.1b3 section 7).
type Exception byte

// The codes that change what the driver does.
const (
	exceptionIllegalAddress Exception = 0x02
	exceptionIllegalValue   Exception = 0x03
	exceptionBusy           Exception = 0x06
)

// Meaning says in words what the code tells.
func (e Exception) Meaning() string {
	switch e {
	case 0x01:
		return "illegal function"
	case exceptionIllegalAddress:
		return "illegal data address"
	case exceptionIllegalValue:
		return "illegal data value"
	case 0x04:
		return "server device failure"
	case 0x05:
		return "acknowledge: it will take long"
	case exceptionBusy:
		return "server device busy"
	case 0x08:
		return "memory parity error"
	case 0x0A:
		return "gateway path unavailable"
	case 0x0B:
		return "gateway target failed to respond"
	default:
		return "a code of the device's own"
	}
}

// Error tells the code and its meaning.
func (e Exception) Error() string {
	return fmt.Sprintf("modbus: the device refuses with exception %02X, %s", byte(e), e.Meaning())
}

package serialport

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"simmerline/sensors"
)

// Resolve finds the device node that an address means now. Its error is a
// *sensors.OpenError: ErrMissing when nothing answers to the address, and
// ErrAmbiguous when several do, since two probes must never be swapped in
// silence.
func (f Finder) Resolve(address sensors.Address) (device string, err error) {
	switch {
	case address.Path != "":
		return address.Path, nil
	case address.ByID != "":
		return f.resolveLink(address.ByID)
	}
	ports, err := f.List()
	if err != nil {
		return "", &sensors.OpenError{Kind: sensors.ErrMissing, Sentence: strings.TrimPrefix(err.Error(), "serialport: ")}
	}
	return match(ports, address)
}

// resolveLink follows a link of the by-id folder. Two adapters without serial
// numbers share one such name, and the link leads to whichever came last; that
// is refused where it can be seen.
func (f Finder) resolveLink(name string) (string, error) {
	if name != filepath.Base(name) {
		return "", &sensors.OpenError{Kind: sensors.ErrMissing, Sentence: fmt.Sprintf(
			"%q is no name of a link in %s: give the last part only", name, f.byID())}
	}
	device, err := filepath.EvalSymlinks(filepath.Join(f.byID(), name))
	if err != nil {
		if os.IsPermission(err) {
			return "", &sensors.OpenError{Kind: sensors.ErrDenied, Sentence: fmt.Sprintf("%s may not be read: %v", f.byID(), err)}
		}
		return "", &sensors.OpenError{Kind: sensors.ErrMissing, Sentence: fmt.Sprintf(
			"%s is not plugged in: plug it in; what is plugged in is shown by: simmerline ports", name)}
	}
	ports, err := f.List()
	if err != nil {
		return device, nil // a system whose ports can't be listed still has its links
	}
	for _, port := range ports {
		if real, err := filepath.EvalSymlinks(port.Device); err != nil || real != device {
			continue
		}
		twins := []Found{port}
		for _, other := range ports {
			if other.Device != port.Device && other.sameDescriptor(port) {
				twins = append(twins, other)
			}
		}
		if len(twins) > 1 {
			return "", ambiguous(name, twins)
		}
	}
	return device, nil
}

// match finds the one port with the USB identity of an address.
func match(ports []Found, address sensors.Address) (string, error) {
	var found, otherKind []Found
	for _, port := range ports {
		if !port.USB || !strings.EqualFold(port.Serial, address.USBSerial) {
			continue
		}
		number := port.Interface
		if linked, ok := interfaceOfLink(port.ByID); number < 0 && ok {
			number = linked
		}
		switch {
		case address.VendorID != "" && !strings.EqualFold(port.VendorID, address.VendorID),
			address.ProductID != "" && !strings.EqualFold(port.ProductID, address.ProductID),
			address.Interface >= 0 && number >= 0 && number != address.Interface:
			otherKind = append(otherKind, port)
		default:
			found = append(found, port)
		}
	}
	switch {
	case len(found) == 1:
		return found[0].Device, nil
	case len(found) > 1:
		return "", ambiguous(describe(address), found)
	case len(otherKind) > 0:
		return "", &sensors.OpenError{Kind: sensors.ErrMissing, Sentence: fmt.Sprintf(
			"nothing that is plugged in is %s; with that serial number there is %s: mend the bench file or plug the other in",
			describe(address), listed(otherKind))}
	default:
		return "", &sensors.OpenError{Kind: sensors.ErrMissing, Sentence: fmt.Sprintf(
			"%s is not plugged in: plug it in; what is plugged in is shown by: simmerline ports", describe(address))}
	}
}

// describe says in words which USB device an address means.
func describe(a sensors.Address) string {
	words := "the USB device with serial number " + a.USBSerial
	if a.VendorID != "" || a.ProductID != "" {
		words += fmt.Sprintf(" (%s:%s)", orAny(a.VendorID), orAny(a.ProductID))
	}
	if a.Interface >= 0 {
		words += fmt.Sprintf(", interface %d", a.Interface)
	}
	return words
}

func orAny(identifier string) string {
	if identifier == "" {
		return "any"
	}
	return strings.ToLower(identifier)
}

func ambiguous(what string, ports []Found) error {
	return &sensors.OpenError{Kind: sensors.ErrAmbiguous, Sentence: fmt.Sprintf(
		"%s could be any of %s: name the interface where it differs, else give the path of the USB socket (a link in /dev/serial/by-path)",
		what, listed(ports))}
}

// listed names ports with what tells them apart.
func listed(ports []Found) string {
	var names []string
	for _, p := range ports {
		name := fmt.Sprintf("%s (%s:%s", p.Device, p.VendorID, p.ProductID)
		if p.Interface >= 0 {
			name += fmt.Sprintf(", interface %d", p.Interface)
		}
		names = append(names, name+")")
	}
	return strings.Join(names, " and ")
}

package serialport

import (
	"cmp"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"simmerline/sensors"
)

// Finder lists serial ports and finds the one that an address means. The zero
// Finder looks at the real system.
type Finder struct {
	// Root is the folder that stands for "/" in a test; empty means the real one.
	Root string
	// ByID is the folder of stable links; empty means /dev/serial/by-id.
	ByID string
}

// Found is a serial port that the system knows.
type Found struct {
	Device string // the device node: /dev/ttyUSB0, COM3
	ByID   string // the name of its stable link, where there is one
	USB    bool

	// What the USB descriptor says; empty where it does not. The identifiers
	// are four hex digits in small letters.
	VendorID, ProductID   string
	Serial                string
	Manufacturer, Product string
	// Interface is the USB interface number, -1 where it is not known.
	Interface int
	// PortNumber tells the ports of one interface apart.
	PortNumber int

	// MayOpen says whether this process may open the node, and Mend what to do
	// where it may not.
	MayOpen bool
	Mend    string
}

// sameDescriptor says whether two ports can't be told apart by what USB says.
func (p Found) sameDescriptor(o Found) bool {
	return p.USB && o.USB && p.VendorID == o.VendorID && p.ProductID == o.ProductID &&
		p.Serial == o.Serial && p.Interface == o.Interface && p.PortNumber == o.PortNumber
}

// StableAddress is the address to write in a bench file for a port among
// others: by its link, else by its USB serial number, else by its node. stable
// is false when nothing but the node is left, which may change at each plug-in.
func StableAddress(port Found, among []Found) (address sensors.Address, stable bool) {
	address.Interface = -1
	doubled := slices.ContainsFunc(among, func(o Found) bool {
		return o.Device != port.Device && o.sameDescriptor(port)
	})
	siblings := func(same func(o Found) bool) int {
		n := 0
		for _, o := range among {
			if o.Serial == port.Serial && o.VendorID == port.VendorID && o.ProductID == port.ProductID && same(o) {
				n++
			}
		}
		return n
	}
	switch {
	case port.ByID != "" && !doubled:
		address.ByID = port.ByID
	case port.USB && port.Serial != "" && !doubled && siblings(func(o Found) bool { return o.Interface == port.Interface }) <= 1:
		address.USBSerial, address.VendorID, address.ProductID = port.Serial, port.VendorID, port.ProductID
		if siblings(func(Found) bool { return true }) > 1 {
			address.Interface = port.Interface
		}
	default:
		address.Path = port.Device
		return address, !port.USB
	}
	return address, true
}

// List gives the serial ports of this system: those on USB first, each group by
// name. It opens and reprograms none of them.
func (f Finder) List() ([]Found, error) {
	ports, err := f.system()
	if err != nil {
		return nil, err
	}
	links := f.links()
	for i, port := range ports {
		if target, err := filepath.EvalSymlinks(port.Device); err == nil {
			ports[i].ByID = links[target]
		}
		ports[i].MayOpen = mayOpen(port.Device)
		if !ports[i].MayOpen {
			ports[i].Mend = deniedSentence(port.Device)
		}
	}
	slices.SortFunc(ports, func(a, b Found) int {
		if a.USB != b.USB {
			if a.USB {
				return -1
			}
			return 1
		}
		return cmp.Or(cmp.Compare(len(a.Device), len(b.Device)), cmp.Compare(a.Device, b.Device))
	})
	return ports, nil
}

func (f Finder) path(parts ...string) string {
	root := f.Root
	if root == "" {
		root = string(filepath.Separator)
	}
	return filepath.Join(append([]string{root}, parts...)...)
}

func (f Finder) byID() string {
	if f.ByID != "" {
		return f.ByID
	}
	return f.path("dev", "serial", "by-id")
}

// links maps each device node to the first link in the by-id folder that leads
// to it. A system without such a folder has none.
func (f Finder) links() map[string]string {
	entries, _ := os.ReadDir(f.byID())
	links := make(map[string]string)
	for _, entry := range entries { // in the order of their names
		target, err := filepath.EvalSymlinks(filepath.Join(f.byID(), entry.Name()))
		if _, taken := links[target]; err == nil && !taken {
			links[target] = entry.Name()
		}
	}
	return links
}

// interfaceOfLink reads the USB interface number from the name of a by-id link,
// which ends in "-if00" or "-if00-port0"; ok is false when it has none. Systems
// name the interface in hexadecimal, as the kernel does.
func interfaceOfLink(name string) (number int, ok bool) {
	at := strings.LastIndex(name, "-if")
	if at < 0 {
		return -1, false
	}
	digits, _, _ := strings.Cut(name[at+len("-if"):], "-port")
	return parseHexByte(digits)
}

// parseHexByte reads the two hex digits of a USB interface number.
func parseHexByte(digits string) (number int, ok bool) {
	if len(digits) != 2 {
		return -1, false
	}
	for _, r := range strings.ToLower(digits) {
		place := strings.IndexRune("0123456789abcdef", r)
		if place < 0 {
			return -1, false
		}
		number = number<<4 | place
	}
	return number, true
}

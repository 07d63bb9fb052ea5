package bench

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"simmerline/sensors"
)

// port is a port with the places that later checks point at.
type port struct {
	config   sensors.PortConfig
	at       place // its name
	deviceAt place
	channels []*channel
}

var (
	nameForm = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	hexForm  = regexp.MustCompile(`^[0-9a-fA-F]{4}$`)
)

// bauds are the rates that devices use.
var bauds = []int{
	300, 600, 1200, 2400, 4800, 9600, 14400, 19200, 28800, 31250, 38400, 57600, 74880, 76800, 115200, 128000,
	230400, 250000, 256000, 460800, 500000, 921600, 1000000, 1500000, 2000000, 3000000, 4000000,
}

// keys that only one of the two protocols has, for the port and its channels.
var (
	modbusPortKeys    = []string{"unit", "every", "timeout", "echo"}
	linesPortKeys     = []string{"format", "check"}
	modbusChannelKeys = []string{"modbus_unit", "function", "register", "type", "word_order"}
	linesChannelKeys  = []string{"from", "column"}
)

// named reads the name of one entry of a list, and opens the entry. The entry is
// called by its number until its name is known; names are unique in taken.
func (d *draft) named(n *yaml.Node, kind string, number int, taken map[string]place) (s *section, name string, ok bool) {
	s, ok = d.c.section(n, fmt.Sprintf("%s %d", kind, number), "- name: and a name, with its keys under it")
	if !ok {
		d.nameless = d.nameless || kind != "rule"
		return s, "", false
	}
	s.need("name", "and small letters, digits and hyphens, as bath-wire")
	name, ok = s.scalar("name")
	if ok && (!nameForm.MatchString(name) || len(name) > longestName) {
		s.trouble("name", &problem{quote(name) + " is no name",
			fmt.Sprintf("use small letters, digits and hyphens between them, at most %d, as bath-wire", longestName)})
		ok = false
	}
	if !ok {
		d.nameless = d.nameless || kind != "rule"
		return s, "", true
	}
	s.what = kind + " " + name
	if first, twice := taken[name]; twice {
		d.c.fault(s.placeOf("name"), "give one of them another name", "%s stands twice, first on line %d", s.what, first.line)
	} else {
		taken[name] = s.placeOf("name")
	}
	return s, name, true
}

func (d *draft) readPort(n *yaml.Node, number int, silentAfter time.Duration) {
	taken := map[string]place{}
	for _, p := range d.ports {
		if p.config.Name != "" {
			taken[p.config.Name] = p.at
		}
	}
	s, name, ok := d.named(n, "port", number, taken)
	if !ok {
		return
	}
	p := &port{at: s.placeOf("name")}
	p.config.Name = name
	d.ports = append(d.ports, p)
	d.readDevice(s, p)
	s.need("protocol", "lines or protocol: modbus")
	protocol, known := s.choice("protocol", "lines", "modbus")
	modbus := known && protocol == 1
	d.readSerial(s, p, modbus)
	p.config.Settle = s.duration("settle", 0, time.Minute, 0)
	label := "for a port that speaks "
	switch {
	case !known: // What belongs to neither can't be told from what belongs to the other.
		s.known = append(s.known, slices.Concat(modbusPortKeys, linesPortKeys)...)
	case modbus:
		p.config.Modbus = d.readModbus(s)
		s.misplaced("is "+label+"lines", "take it out, or write protocol: lines", linesPortKeys...)
	default:
		p.config.Lines = d.readLines(s)
		s.misplaced("is "+label+"modbus", "take it out, or write protocol: modbus", modbusPortKeys...)
	}
	entries := s.list("channels", "- {name: hot, quantity: temperature, ...}, one for each thing measured there")
	for i, entry := range entries {
		d.readChannel(entry, i+1, p, known, silentAfter)
	}
	if s.need("channels", "and under it a list of what is measured there"); s.emptyList("channels") {
		s.trouble("channels", &problem{"there are none", "list at least one, as - {name: hot, quantity: temperature, ...}"})
	}
	s.done()
}

// readDevice reads which device a port is: by USB serial number, by-id name, or
// device node.
func (d *draft) readDevice(parent *section, p *port) {
	const example = `{usb_serial: "PW-0001", interface: 0} or {by_id: "..."} or {path: /dev/ttyUSB0}`
	parent.need("device", example)
	n := parent.take("device")
	if n == nil {
		return
	}
	p.deviceAt = at(n)
	s, ok := d.c.section(n, parent.what+": device", example)
	if !ok {
		return
	}
	a := &p.config.Address
	a.Path, a.ByID, a.USBSerial = s.text("path", 200), s.text("by_id", 200), s.text("usb_serial", 100)
	a.Interface = -1
	if i, ok := s.integer("interface", 0, 31); ok {
		a.Interface = i
	}
	a.VendorID, a.ProductID = s.usbID("vendor"), s.usbID("product")
	var ways []string
	for _, key := range []string{"usb_serial", "by_id", "path"} {
		if s.has(key) {
			ways = append(ways, key)
		}
	}
	switch {
	case len(ways) == 0:
		d.c.fault(s.at, "write "+example, "%s is not said", s.what)
	case len(ways) > 1:
		d.c.fault(s.at, "keep one of them; usb_serial still finds it in another socket", "%s is given in several ways: %s", s.what, strings.Join(ways, ", "))
	case ways[0] != "usb_serial":
		for _, key := range []string{"interface", "vendor", "product"} {
			if s.has(key) {
				d.c.fault(s.placeOf(key), "take it out", "%s: %s goes with usb_serial only", s.what, key)
			}
		}
	}
	if strings.ContainsAny(a.ByID, `/\`) {
		s.trouble("by_id", &problem{quote(a.ByID) + " is a path", "write only the name of the link, without the folder"})
	}
	// Any whole path will do: links to devices lie in other folders than /dev too.
	if a.Path != "" && !strings.HasPrefix(a.Path, "/") && !strings.HasPrefix(strings.ToUpper(a.Path), "COM") {
		s.trouble("path", &problem{quote(a.Path) + " is no device node", "write it as /dev/ttyUSB0, or COM3"})
	}
	s.done()
}

// usbID gives four hex digits in small letters.
func (s *section) usbID(key string) string {
	text, ok := s.scalar(key)
	if ok && !hexForm.MatchString(text) {
		s.trouble(key, &problem{quote(text) + " is not four hex digits", `write it as "0403", in quotes`})
		return ""
	}
	return strings.ToLower(text)
}

// readSerial reads how a port is opened. Modbus RTU devices start out with even
// parity (Modbus over Serial Line V1.02, 2.5.1); those that print lines with none.
func (d *draft) readSerial(s *section, p *port, modbus bool) {
	serial := &p.config.Serial
	*serial = sensors.SerialConfig{DataBits: 8, StopBits: 1}
	if modbus {
		serial.Parity = sensors.ParityEven
	}
	s.need("baud", "and the device's rate, as 9600 or 115200")
	if baud, ok := s.integer("baud", 1, 1<<24); ok {
		serial.Baud = baud
		if !slices.Contains(bauds, baud) {
			s.trouble("baud", &problem{fmt.Sprintf("%d is no rate that devices use", baud), likelyBaud(baud)})
		}
	}
	if bits, ok := s.integer("data_bits", 7, 8); ok {
		serial.DataBits = bits
		if modbus && bits != 8 {
			s.trouble("data_bits", &problem{"Modbus RTU has 8 data bits", "write 8, or leave it out"})
		}
	}
	if bits, ok := s.integer("stop_bits", 1, 2); ok {
		serial.StopBits = bits
	}
	if i, ok := s.choice("parity", "none", "odd", "even"); ok {
		serial.Parity = sensors.Parity(i)
	}
	if level, ok := s.flag("dtr"); ok {
		serial.DTR = &level
	}
	if level, ok := s.flag("rts"); ok {
		serial.RTS = &level
	}
}

// likelyBaud is the mend for a rate that is none.
func likelyBaud(baud int) string {
	var words []string
	for _, b := range bauds {
		words = append(words, strconv.Itoa(b))
	}
	if near := nearest(strconv.Itoa(baud), words); near != "" {
		return "did you mean " + near + "?"
	}
	return "write the rate from the device's manual, as 9600, 19200 or 115200"
}

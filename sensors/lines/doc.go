// Package lines reads the numbers of a device that prints them by itself, a
// line of text at a time. Nothing is ever sent to it.
//
// A line ends in "\n", "\r\n" or "\r", holds at most 512 bytes of UTF-8, and
// comes in one of three formats:
//
//	hot=68.4 cool=21.0;rinse=19.8        name=value; blanks, tabs, commas or semicolons between
//	68.4, 21.0, 19.8                     CSV; a comma between, columns counted from 1
//	{"bath":{"hot":68.4},"cool":21.0}    one JSON object; the path of hot is bath.hot
//
// Any of them may end in "*hh": the XOR of all bytes before the "*", as two hex
// digits. A port says whether that is ignored, checked where it is there, or
// required. "Where it is there" guards little, since a flipped bit can take the
// "*" away; only "required" protects a line, and then against any one damaged
// byte, not against every pair of them. Where a check is looked for, a line
// whose last "*" is not three bytes from its end is refused.
//
// A line is taken whole or not at all: a damaged number, a name that appears
// twice, a missing column or a control character refuses all of it, and it is
// counted. A byte that the serial driver finds damaged reads as NUL, so a NUL
// refuses its line too. Names that are not mapped are passed over; a line with
// no mapped name at all is counted as not mapped.
//
// Numbers are decimal digits with an optional sign, decimals behind a point
// (with digits on both sides of it) and an exponent: 68.4, -3, 6.84e+1. Hex,
// underscores, a decimal comma and blanks inside are refused. The channel's own
// unit may follow at once (68.4C, 68.4°C, 0.4ppm, 83.4kPa) where the bench file
// gives the channel no scale and no offset; any other unit is refused, because
// 155F must never be read as 155 °C.
//
// A device may also print a word in place of a number, in any case of letters:
//
//	nothing, nan, inf, ovf, null, none, n/a, --, err, error    it has no number
//	fault, fail                                                it reports a fault
//	open, open-circuit                                         its probe is open
//	short, shorted, short-circuit                              its probe is shorted
//	over, over-range, under, under-range                       beyond what it can measure
//	0, 1, off, on, false, true, open, closed                   a contact, and only these
//
// The words of the first five rows become bad readings with their reason. Any
// other word is damage.
//
// After an open the first line is dropped, since we may have come in at its
// middle: "8.4" of "hot=68.4" is no temperature. For the same reason a line
// that pauses for 5 s is dropped up to its end, and so is one longer than 512
// bytes.
//
// Not supported: quoted CSV fields, header rows, arrays in JSON, devices that
// must be asked.
//
// The package imports sensors only. It keeps no clock: times are the link's.
package lines

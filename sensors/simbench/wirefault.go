package simbench

// WireFaults is what goes wrong on a wire on the way to the hub. The zero value
// is a good wire. The shares are of bytes, 0 to 1.
type WireFaults struct {
	Flip   float64 // share of bytes with one bit turned over
	Drop   float64 // share of bytes lost
	Double float64 // share of bytes sent twice
	Echo   bool    // what the hub sends comes back to it, as from a half-duplex adapter
	Stuck  bool    // a device that prints repeats its last good line
}

// wire carries bytes and spoils them by its faults. What happens to a byte
// depends on the seed, the port and how many bytes went before.
type wire struct {
	seed   uint64
	stream uint64
	count  uint64
}

func newWire(seed uint64, port int) wire {
	return wire{seed: seed, stream: streamWire<<8 | uint64(port)}
}

// carry appends what arrives of the bytes sent.
func (w *wire) carry(to, sent []byte, faults WireFaults) []byte {
	if faults.Flip == 0 && faults.Drop == 0 && faults.Double == 0 {
		w.count += uint64(len(sent))
		return append(to, sent...)
	}
	for _, b := range sent {
		w.count++
		if chance(w.seed, w.stream, w.count<<2) < faults.Flip {
			b ^= 1 << (mix(w.seed^w.stream^w.count) % 8)
		}
		if chance(w.seed, w.stream, w.count<<2|1) < faults.Drop {
			continue
		}
		to = append(to, b)
		if chance(w.seed, w.stream, w.count<<2|2) < faults.Double {
			to = append(to, b)
		}
	}
	return to
}

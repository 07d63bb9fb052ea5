// Package modbus reads the registers and bits of the Modbus RTU devices on one
// wire, which are told apart by their unit.
//
// On the wire a request is eight bytes and its reply follows at once:
//
//	request   unit  function  address hi lo  count hi lo  crc lo hi
//	reply     unit  function  byte count     data …       crc lo hi
//	refusal   unit  function|80h  code                    crc lo hi
//
// Functions 01 (coils), 02 (discrete inputs), 03 (holding registers) and 04
// (input registers) are read; nothing is ever written. Bytes within a register
// come high first; the two registers of a 32-bit number come in either order,
// as the bench file says. Sources: Modbus Application Protocol Specification
// V1.1b3 (sections 6.1 to 6.4 and 7) and Modbus over Serial Line V1.02
// (sections 2.5.1 and 6.2.2, the CRC).
//
// How a reply is told from noise:
//
//   - a frame ends where its own byte count says, and its CRC must fit. Gaps
//     decide nothing, because USB adapters stretch and swallow them;
//   - unit, function and byte count must be those that were asked for;
//   - after any bad frame the line must fall quiet before the question is put
//     again, at most twice;
//   - a reply carries no register's address, so a late one can't be told from
//     the one that is waited for. After a question without an answer that unit is
//     asked nothing for one more time-out, and whatever waits in the buffers is
//     discarded before each request. Other units may be asked meanwhile: a late
//     answer with another unit in it is a bad frame to them.
//
// An exchange gives each unit a turn, in which it is asked for each span of
// neighbouring registers. A turn ends at the first question without an answer,
// and the unit's next one goes on behind it, so a mute register starves no
// other.
//
// A unit that does not answer must not starve the others either:
//
//   - it is left alone for one time-out, and after each further one in a row for
//     twice as long as before. It is asked again at most 5 s after its last
//     time-out (or one time-out, where that is longer), in the first round that
//     falls due by then. Its first answer ends all that;
//   - those that answer have their turns first. Then those whose rest is over
//     are asked, the longest due first, up to the first that stays mute, or
//     beyond it as long as that does not delay the next exchange. So units known
//     to be mute lengthen an exchange by one time-out at most;
//   - an exchange that has taken three time-outs, and its interval up to 5 s,
//     puts no more questions, and the next one goes on where it stopped. So n
//     units that fall mute at once keep the others waiting for n time-outs;
//   - devices that listen in may take the question behind another unit's silence
//     for the answer which that one owed, and leave it alone. So such a silence
//     does not count, and the unit is asked again first of all;
//   - where no unit answers there is nobody to rest for: one of them at least is
//     asked in each exchange.
//
// The channels of a mute unit are not heard, and no reading says more.
//
// Half-duplex adapters may give back what was sent. An exact copy of the
// request in front of a reply is then taken off; a mangled copy is a bad frame.
// With the echo mode on auto, a reply of 17 to 24 bits from an address between
// 768 and 1023 can equal its own request byte for byte, and is then taken for
// an echo: set the mode to off for such a device.
//
// Not supported: writing, broadcasts, the ASCII mode, 64-bit numbers, other
// byte orders, several masters, and noise in front of a reply (the frame is
// refused and asked for again).
//
// The package imports sensors only. It keeps no clock: waits and times of
// arrival are the link's.
package modbus

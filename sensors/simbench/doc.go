// Package simbench is the simulated bench of an invented workshop: a physical
// model of four baths, a hot plate and the air above them, and devices that
// speak the real protocols about it, over pseudo-terminals or in memory. The
// demo and the tests read it with the same drivers as a real bench. It is
// linked by nothing else.
//
// # The parts
//
//   - story.go, afternoon.go, scenarios.go, pennywhistle.yaml: names, scripts and
//     the bench file;
//   - world.go over bath.go, air.go, water.go: the model; action.go: what may be
//     done to it;
//   - device.go over printer.go, slave.go, registers.go, wirefault.go: the
//     instruments, as pure state machines, and what wires do to their bytes;
//   - bench.go: a script played on a world with its devices; preroll.go runs it
//     fast through the real drivers; link.go and memory.go, wires.go and
//     pty_unix.go are the ways to plug it in.
//
// Every time is an offset in the story, 0 being its first moment. The world has
// a fixed step of 0.1 s and a seed; however it is advanced, it comes out the
// same. It imports sensors, sensors/modbus (for the check of a frame) and
// sensors/clock.
//
// # The model
//
// Heat. A plate and a pot, each of one temperature (two lumps):
//
//	plate:  700 J/K · dT/dt = element − contact · (Tplate − Tpot) − 1.0 W/K · (Tplate − Troom)
//	pot:    C · dT/dt = contact · (Tplate − Tpot) − loss · (Tpot − Troom) − evaporation
//
// where C is water · 4186 J/(kg K) + dry residue + the empty pot. The element
// is on or off: a thermostat on the plate keeps it within ±12 K of the dial's set
// point. Open water loses what Carrier's formula gives, by the saturation
// pressure of water; the vapour takes water with it. At the site's boiling point
// all further heat makes steam, and the pot gets no hotter until the water is
// gone. Then it does.
//
// Gas. A warm sulfide bath gives off H2S in proportion to what it still holds,
// twice as fast every 12 K; steam strips out more, by its mass; residue of a dry
// pot over 130 °C gives SO2, the more the hotter; an addition of ammonia leaves
// the bath with a memory of 12 minutes. The air that the fume head shares with
// the baths is one well-mixed zone: V · dC/dt = escaping − Q · C. The hood, while
// its fan runs, takes three quarters of what rises at once, and changes the zone's
// air six times as fast.
//
// Sensors. Probes follow their bath with a lag, have a constant error of their
// own and a scatter, and measure in the steps of their kind. Gas cells follow
// with their T90, answer to each other's gases, have noise, are far off just
// after power-up, and end a fifth beyond their range.
//
// # Constants and where they come from
//
//	saturation pressure  Antoine, 8.07131, 1730.63, 233.426 in mmHg and °C; published in
//	                     many places for 1–100 °C; a test holds it to 0.5 % of a stored steam table
//	water                4186 J/(kg K), latent heat 2.27 MJ/kg near 95 °C: textbook values, from memory
//	evaporation          0.089 + 0.0782 V (Carrier 1918; the ASHRAE handbook's pool formula), from memory;
//	                     said in print to be inaccurate, and used here far above pool temperature
//	air over the bath    0.05 m/s still, 0.30 m/s with the fan: assumption
//	room                 21.5 °C, 45 % humidity, 3.5 K colder after a night: assumption
//	hot plate            800 W, 700 J/K, set points 60–300 °C, ±12 K, 1.0 W/K to the room: assumption, of
//	                     the size of a small single plate
//	contact              3.3 W/K, stirred 4.2 W/K: assumption; some 250 W/(m² K) over the pot's bottom
//	pots                 0.55 kg of bath in 13 cm of width (0.0133 m²), 250 J/K, 0.6 W/K; soda 0.8 kg, 150 J/K,
//	                     0.5 W/K; rinse 1.5 kg, 200 J/K, 1.0 W/K: assumption
//	dry residue          20 g (soda 40 g), 1000 J/(kg K): assumption
//	pieces               385 J/(kg K), copper: textbook value, from memory
//	H2S held             900 ml (hot), 600 ml (cool): assumption, what a few grams of sulfide can free
//	H2S when warm        0.06 % of that a minute at 60 °C, doubling every 12 K: assumption; only that it
//	                     leaves readily and more on warming is on record (trade and school safety sheets)
//	H2S with steam       0.55 ml for each gram of steam from a fresh bath: assumption
//	SO2 of a dry pot     from 130 °C, 0.35 ml/min for each kelvin above, 600 ml in all: assumption
//	NH3                  household ammonia of 5 % and 0.96 kg/l: common label figures, from memory; 17.03 g/mol;
//	                     12 minutes: assumption
//	air at the head      2.0 m³, 0.5 m³/min still and 2.5 m³/min more with the fan, capture 0.75: assumption;
//	                     the balance of a well-mixed zone is textbook
//	plume                ±12 % with a memory of 15 s: assumption
//	fan                  follows its switch in 3 s; the contact closes at half speed: assumption
//	cells                T90 30 s, noise 0.035, 0.015 and 0.15 ppm for H2S, SO2 and NH3: of the order that
//	                     makers state, from memory; ranges 100, 20 and 100 ppm
//	cross-sensitivity    H2S cell 0.10 of SO2, NH3 cell 0.30 of H2S: assumption; signs and order as commonly
//	                     stated, factors differ by maker and age
//	power-up of cells    +4, −1.5 and −6 ppm, fading in 22 s: assumption
//	probes               lag 8 s (digital), 5 s (Pt100), 3 s (thermocouple), ±0.25, ±0.1, ±0.5 K: assumption
//	                     within the usual classes; steps 1/16 K (DS18B20 data sheet, 12 bits) and 1/4 K
//
// # Limits
//
// The numbers are believable, not measured: nothing here says how much gas a
// real bath gives off, and no limit or alarm may be tuned by it. One temperature
// stands for a whole bath and one level for a whole zone: no layers, no draught,
// no second room that fills up. Salt does not raise the boiling point, acid is
// never added, sulfide does not age, sediment does not bump, the cells are never
// poisoned, and the pot does not crack.
package simbench

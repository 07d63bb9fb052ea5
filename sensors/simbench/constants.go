package simbench

// The constants of the model. doc.go lists them with where each comes from.
const (
	// stepSeconds is the fixed internal step. The quickest thing in the model,
	// the fan, needs seconds; explicit steps of this length are far from their
	// limit of stability.
	stepSeconds = 0.1

	waterHeat   = 4186.0 // J/(kg K)
	latentHeat  = 2.27e6 // J/kg, near 95 °C
	solidsHeat  = 1000.0 // J/(kg K), dried residue
	gasConstant = 8.314  // J/(mol K)
	zeroCelsius = 273.15 // K
	humidity    = 0.45   // share of saturation in the room's air

	elementPower    = 800.0 // W, hot plate
	plateHeat       = 700.0 // J/K, cast plate and element
	plateContact    = 3.3   // W/K, plate to pot, still bath
	plateStirred    = 4.2   // W/K, plate to pot, stirred bath
	plateLoss       = 1.0   // W/K, plate to room
	plateHysteresis = 12.0  // K either side of the thermostat's set point
	plateLowest     = 60.0  // °C, set point at the start of the dial
	plateSpan       = 240.0 // K, from the start of the dial to full

	stillAir = 0.05 // m/s over the bath, fan off
	hoodAir  = 0.30 // m/s over the bath, fan on

	sulfideDoubling = 12.0   // K for the release of H2S to double
	sulfideAt60     = 6.0e-4 // of what can be released, per minute, still bath at 60 °C
	sulfideStrip    = 0.55   // ml of H2S for each gram of steam, fresh bath
	scorchStart     = 130.0  // °C of a dry pot, where residue begins to burn
	scorchRate      = 0.35   // ml of SO2 per minute for each kelvin above that
	scorchSupply    = 600.0  // ml of SO2 that the residue can give
	ammoniaDecay    = 12.0   // minutes for a fresh addition at 65 °C to fall to 1/e
	ammoniaStrength = 0.05   // kg of NH3 in a kg of household ammonia
	ammoniaDensity  = 0.96   // kg/l
	ammoniaMolar    = 17.03  // g/mol

	zoneVolume   = 2.0  // m³ of air, well mixed, that the head shares with the bath
	zoneStill    = 0.5  // m³/min exchanged, fan off
	zoneHood     = 2.5  // m³/min more, fan on
	hoodCapture  = 0.75 // share of what rises that the running hood takes at once
	fanRunTime   = 3.0  // s, for the fan to follow its switch (to 1/e)
	airflowLimit = 0.5  // of full speed, where the airflow contact closes
	plumeWander  = 0.12 // relative, standard deviation of what drifts past the head
	plumeMemory  = 15.0 // s

	cellT90 = 30.0 // s for a cell to show nine tenths of a step

	roomFall = 3.5 // K that the room is colder at the end of the night
)

// cellSpec is one electrochemical cell of the fume head.
type cellSpec struct {
	noise  float64 // ppm, standard deviation
	top    float64 // ppm, end of the measuring range
	warmUp float64 // ppm shown too much just after power-up
}

// The warm-up error of every cell fades with this memory.
const warmUpMemory = 22.0 // s

func cellSpecs() [gasCount]cellSpec {
	return [gasCount]cellSpec{
		gasH2S: {noise: 0.035, top: 100, warmUp: 4},
		gasSO2: {noise: 0.015, top: 20, warmUp: -1.5},
		gasNH3: {noise: 0.15, top: 100, warmUp: -6},
	}
}

// How much of another gas a cell takes for its own.
const (
	h2sCellFromSO2 = 0.10
	nh3CellFromH2S = 0.30
)

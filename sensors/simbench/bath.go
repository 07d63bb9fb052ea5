package simbench

import "math"

// vessel is a bath as it is before the story begins.
type vessel struct {
	water   float64 // kg
	celsius float64
	area    float64 // m² of open liquid
	pot     float64 // J/K of the empty pot
	loss    float64 // W/K, pot and liquid to room, without evaporation
	sulfide float64 // ml of H2S that the bath could release in all
	solids  float64 // kg left when the water is gone
	plate   bool    // it stands on a hot plate
}

// bath is a bath and the plate under it: two lumps, each of one temperature.
type bath struct {
	vessel
	plateCelsius float64
	dial         float64 // percent of its turn; 0 is off
	switchedOn   bool    // the switch outside the door
	element      bool    // the thermostat's contact
	stirred      bool

	fresh   float64 // ml of H2S at the start; vessel.sulfide is what is left
	ammonia float64 // ml of NH3 still in the bath
	scorch  float64 // ml of SO2 still in the residue

	steam float64 // g/min boiled off, smoothed over the pot's own seconds
}

func newBath(v vessel, room float64) bath {
	b := bath{vessel: v, plateCelsius: room, switchedOn: true, fresh: v.sulfide}
	if v.sulfide > 0 {
		b.scorch = scorchSupply
	}
	return b
}

// heatCapacity of liquid and pot in J/K.
func (b *bath) heatCapacity() float64 {
	return b.water*waterHeat + b.solids*solidsHeat + b.pot
}

// stepHeat moves both lumps on by one step, under mains power or not, in a
// room of the given temperature, with air moving over the liquid.
func (b *bath) stepHeat(power bool, room, airSpeed, boiling float64) {
	const dt = stepSeconds
	toLiquid := 0.0
	if b.plate {
		toLiquid = b.stepPlate(power, room)
	}
	lost := b.loss * (b.celsius - room)
	evaporated := 0.0
	if b.water > 0 {
		flux := evaporationFlux(b.celsius, humidity*saturationPressure(room), airSpeed)
		evaporated = flux * b.area
	}
	b.celsius += (toLiquid - lost - evaporated) * dt / b.heatCapacity()
	b.water -= evaporated * dt / latentHeat

	boiledOff := 0.0
	if b.celsius > boiling && b.water > 0 {
		// All heat beyond the boiling point makes steam, as long as there is water.
		heat := (b.celsius - boiling) * b.heatCapacity()
		boiledOff = min(heat/latentHeat, b.water)
		b.water -= boiledOff
		b.celsius = boiling + (heat-boiledOff*latentHeat)/b.heatCapacity()
	}
	b.water = max(b.water, 0)
	const smoothing = dt / 3 // 3 s
	b.steam += smoothing * (boiledOff*1000*60/dt - b.steam)
}

// stepPlate moves the plate on and gives the heat it hands to the pot, in W.
func (b *bath) stepPlate(power bool, room float64) float64 {
	set := plateLowest + plateSpan*b.dial/100
	switch {
	case b.dial <= 0 || b.plateCelsius > set+plateHysteresis:
		b.element = false
	case b.plateCelsius < set-plateHysteresis:
		b.element = true
	}
	contact := plateContact
	if b.stirred {
		contact = plateStirred
	}
	toLiquid := contact * (b.plateCelsius - b.celsius)
	heat := -toLiquid - plateLoss*(b.plateCelsius-room)
	if power && b.switchedOn && b.element {
		heat += elementPower
	}
	b.plateCelsius += heat * stepSeconds / plateHeat
	return toLiquid
}

// stepGas gives what leaves the bath in this step, in ml of each gas per
// minute, and takes it from what is left.
func (b *bath) stepGas() (emitted [gasCount]float64) {
	const dt = stepSeconds / 60 // minutes
	if b.sulfide > 0 && b.water > 0 {
		warm := b.sulfide * sulfideAt60 * math.Exp2((b.celsius-60)/sulfideDoubling)
		stripped := sulfideStrip * b.steam * b.sulfide / b.fresh
		emitted[gasH2S] = warm + stripped
		b.sulfide = max(0, b.sulfide-emitted[gasH2S]*dt)
	}
	if b.water <= 0 && b.celsius > scorchStart && b.scorch > 0 {
		emitted[gasSO2] = scorchRate * (b.celsius - scorchStart)
		b.scorch = max(0, b.scorch-emitted[gasSO2]*dt)
	}
	if b.ammonia > 0 {
		emitted[gasNH3] = b.ammonia / ammoniaDecay * math.Exp2((b.celsius-65)/sulfideDoubling)
		b.ammonia = max(0, b.ammonia-emitted[gasNH3]*dt)
	}
	return emitted
}

// addPiece cools the bath by a cold piece of metal, whose specific heat is near
// that of copper, 385 J/(kg K).
func (b *bath) addPiece(grams, room float64) {
	const metalHeat = 385.0
	piece := grams / 1000 * metalHeat
	b.celsius -= piece * (b.celsius - room) / (b.heatCapacity() + piece)
}

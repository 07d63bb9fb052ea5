package rules

import "simmerline/sensors"

// The words of the built-in alarms. Each is meant to be understood in two
// seconds from across a room. Do asks nobody to the bench unless NearBench says
// so, and DoAway never does.

// stayAway is what takes the place of any request that would bring somebody to
// the bench while the fumes may be dangerous.
const stayAway = "Stay away: the fumes come first."

const cutOutside = "Cut the power only from outside."

var (
	overLineWords = Words{
		Means: "over its line", Do: "Turn the hot plate down now.", NearBench: true,
		DoAway: stayAway + " " + cutOutside, Over: "back below its line",
	}
	nearLineWords = Words{
		Means: "close to its line", Forecast: "on its way to the line", Do: "Turn the hot plate down a little.", NearBench: true,
		DoAway: stayAway + " " + cutOutside, Over: "no longer near its line",
	}
	nearBoilWords = Words{
		Means: "close to boiling", Do: "Turn its heat down.", NearBench: true,
		DoAway: stayAway + " " + cutOutside, Over: "no longer close to boiling",
	}
	dryWords = Words{
		Means: "boiled dry", Do: "Cut the power from outside. Add no water.",
		DoAway: cutOutside, Over: "no longer hotter than boiling water",
		Cleared: "Let it stand cold before anybody handles it, then reset.",
	}
	drySulfideWords = Words{
		Means: "boiled dry: it may give sulfur dioxide", Do: "Leave now. " + cutOutside,
		DoAway: "Leave now. " + cutOutside,
		Still:  "Do not go back yet. " + cutOutside, Over: "no longer hotter than boiling water",
		Cleared: "Air the room well, then reset.",
	}
	scorchWords = Words{
		Means: "beside a hot bath: one may have boiled dry", Do: "Leave now. " + cutOutside,
		DoAway: "Leave now. " + cutOutside,
		Still:  "Do not go back yet. " + cutOutside, Over: belowClearing,
		Cleared: "Air the room well, then reset.",
	}
	airflowWords = Words{
		Means: "no airflow proved while a bath is hot", Do: "Leave. Switch fan and plate only from outside.",
		DoAway: "Leave. Switch fan and plate only from outside.",
		Still:  "Keep out until the air flows again.", Over: "its airflow is proved again, or no bath is hot",
	}
	airflowCautionWords = Words{
		Means: "its airflow contact tells nothing", Do: "Heat no bath until it does.",
		DoAway: "Heat no bath until it does.", Over: "its airflow contact is heard, or a bath is hot",
	}
	headLostWords = Words{
		Means: "not measuring while a bath is hot", Do: "Leave and air the room. " + cutOutside,
		DoAway: "Leave and air the room. " + cutOutside,
		Still:  "Keep out: nothing here would warn of gas.", Over: "measuring again, or no bath is hot",
	}
	headWarmingWords = Words{
		Means: "protecting nobody yet while a bath is hot", Do: "Keep away until it measures. " + cutOutside,
		DoAway: "Keep away until it measures. " + cutOutside, Over: "measuring, lost, or no bath is hot",
	}
	headCautionWords = Words{
		Means: "not protecting yet", Do: "Heat no bath until it measures.",
		DoAway: "Heat no bath until it measures.", Over: "measuring, or a bath is hot",
	}
	lostWords = Words{
		Means: "lost", Do: "Check the probe and its plug.", NearBench: true, DoAway: stayAway,
		Over: "heard again",
	}
	portLostWords = Words{
		Means: "nothing heard from any of its channels", Do: "Check its plug and cable.", NearBench: true, DoAway: stayAway,
		Over: "heard again",
	}
	darkWords = Words{
		Means: "while a bath was hot; the hot plate may be on again", Do: "Check the hot plate.", NearBench: true,
		DoAway: cutOutside, Over: "running again",
	}
	nobodyWords = Words{
		Means: "nothing here can call anybody while a bath is hot", Do: "Stay in sight of the bath, or turn it off.", NearBench: true,
		DoAway: stayAway, Over: "able to call again, or no bath is hot",
	}
	recordWords = Words{
		Means: "not kept", Do: "Check the hub's disk. Alarms go on without it.", NearBench: true,
		DoAway: "Alarms go on without it. " + stayAway, Over: "kept again",
	}
)

const belowClearing = "back below its clearing point"

// gasWords are what a gas alarm says.
func gasWords(gas sensors.Gas, p Priority) Words {
	nose := ""
	if gas == sensors.HydrogenSulfide {
		nose = " Do not trust your nose."
	}
	w := Words{
		Means: "over its " + p.String() + " level", Over: belowClearing,
		Still:   "Do not go back yet. Air the room from outside.",
		Cleared: "Air the room well before anybody goes back, then reset.",
	}
	if p == Danger {
		w.Do = "Leave now. Air the room from outside." + nose
	} else {
		w.Do = "Step away from the bench and air the room." + nose
	}
	w.DoAway = w.Do
	return w
}

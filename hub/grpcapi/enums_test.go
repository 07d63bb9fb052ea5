package grpcapi

import (
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"

	"simmerline/hub"
	"simmerline/hub/record"
	"simmerline/rules"
	"simmerline/sensors"
)

// checkEnum holds a table against both sides: every member here has one of its
// own on the wire and comes back, and no member of the wire is left over.
func checkEnum[N comparable, W interface {
	comparable
	protoreflect.Enum
}](t *testing.T, name string, table enum[N, W], members []N, leftOver ...W) {
	t.Helper()
	seen := make(map[W]N)
	for _, native := range members {
		wire := table.wire(native)
		if other, twice := seen[wire]; twice {
			t.Errorf("%s: %v and %v are both %v on the wire", name, other, native, wire)
		}
		seen[wire] = native
		if back := table.native(wire); back != native {
			t.Errorf("%s: %v comes back as %v", name, native, back)
		}
	}
	for _, wire := range leftOver {
		if native, there := seen[wire]; there {
			t.Errorf("%s: %v means nothing here, but stands for %v", name, wire, native)
		}
	}
	var zero W
	values := zero.Descriptor().Values()
	if want := len(seen) + len(leftOver); values.Len() != want {
		t.Errorf("%s: the wire has %d members, and %d are accounted for", name, values.Len(), want)
	}
	if len(table.pairs) != len(members) {
		t.Errorf("%s: the table has %d pairs for %d members", name, len(table.pairs), len(members))
	}
}

func TestEveryEnumMemberGoesBothWays(t *testing.T) {
	checkEnum(t, "quality", qualities, sensors.Qualities, 0)
	checkEnum(t, "reason", reasons, sensors.Reasons) // none is unspecified on the wire
	checkEnum(t, "quantity", quantities, []sensors.Quantity{
		sensors.Temperature, sensors.GasLevel, sensors.Contact, sensors.Pressure}, 0)
	checkEnum(t, "gas", gases, sensors.Gases, 0)
	checkEnum(t, "port state", portStates, sensors.PortStates, 0)
	checkEnum(t, "bath kind", bathKinds, rules.BathKinds, 0)
	checkEnum(t, "alarm state", alarmStates, rules.States, 0)
	checkEnum(t, "priority", priorities, rules.Priorities, 0)
	checkEnum(t, "class", classes, rules.Classes, 0)
	checkEnum(t, "cause", causes, rules.Causes, 0)
	checkEnum(t, "headline", headlines, rules.Headlines, 0)
	checkEnum(t, "recorded", recordedGrades, hub.RecordedGrades, 0)
	// That the hub stops is told by the stream itself; the hub numbers no notice of it.
	checkEnum(t, "notice kind", noticeKinds, hub.NoticeKinds, 0, 2)
	checkEnum(t, "session how", sessionHows, []record.How{record.ByCommand, record.ByItself, record.ByPowerLoss}, 0)
}

// What a newer hub may send must not look quieter than it is.
func TestUnknownMembersAreTakenForTheWorse(t *testing.T) {
	const newer = 99
	if got := alarmStates.native(newer); !got.Sounds() {
		t.Errorf("a state that is not known reads as %v, which does not sound", got)
	}
	if got := headlines.native(newer); got == rules.HeadlineNoAlarm {
		t.Errorf("a headline that is not known reads as %v", got)
	}
	if got := qualities.native(newer); got != sensors.QualityUnknown {
		t.Errorf("a quality that is not known reads as %v", got)
	}
	if got := recordedGrades.native(newer); got != hub.RecordedNo {
		t.Errorf("a grade that is not known reads as %v", got)
	}
}

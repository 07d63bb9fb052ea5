package grpcapi

import (
	"simmerline/hub"
	"simmerline/hub/record"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
	"simmerline/sensors"
)

// enum pairs the members of an enumeration here with those on the wire.
type enum[N, W comparable] struct {
	pairs []pair[N, W]
	// unknown is taken for what a newer hub may send and we don't know.
	unknown N
}

type pair[N, W comparable] struct {
	native N
	wire   W
}

// wire gives the member on the wire; its zero, unspecified, where there is none.
func (e enum[N, W]) wire(native N) W {
	for _, p := range e.pairs {
		if p.native == native {
			return p.wire
		}
	}
	var unspecified W
	return unspecified
}

// native gives the member here.
func (e enum[N, W]) native(wire W) N {
	for _, p := range e.pairs {
		if p.wire == wire {
			return p.native
		}
	}
	return e.unknown
}

var qualities = enum[sensors.Quality, simmerlinepb.Quality]{pairs: []pair[sensors.Quality, simmerlinepb.Quality]{
	{sensors.QualityUnknown, simmerlinepb.Quality_QUALITY_UNKNOWN},
	{sensors.QualityGood, simmerlinepb.Quality_QUALITY_GOOD},
	{sensors.QualityUncertain, simmerlinepb.Quality_QUALITY_UNCERTAIN},
	{sensors.QualityBad, simmerlinepb.Quality_QUALITY_BAD},
}}

// A good reading has no reason, which is the unspecified one on the wire.
var reasons = enum[sensors.Reason, simmerlinepb.QualityReason]{pairs: []pair[sensors.Reason, simmerlinepb.QualityReason]{
	{sensors.ReasonNone, simmerlinepb.QualityReason_QUALITY_REASON_UNSPECIFIED},
	{sensors.ReasonNotHeard, simmerlinepb.QualityReason_QUALITY_REASON_NOT_HEARD},
	{sensors.ReasonSilent, simmerlinepb.QualityReason_QUALITY_REASON_SILENT},
	{sensors.ReasonUnplugged, simmerlinepb.QualityReason_QUALITY_REASON_UNPLUGGED},
	{sensors.ReasonNotANumber, simmerlinepb.QualityReason_QUALITY_REASON_NOT_A_NUMBER},
	{sensors.ReasonOutOfRange, simmerlinepb.QualityReason_QUALITY_REASON_OUT_OF_RANGE},
	{sensors.ReasonOverRange, simmerlinepb.QualityReason_QUALITY_REASON_OVER_RANGE},
	{sensors.ReasonUnderRange, simmerlinepb.QualityReason_QUALITY_REASON_UNDER_RANGE},
	{sensors.ReasonDeviceFault, simmerlinepb.QualityReason_QUALITY_REASON_DEVICE_FAULT},
	{sensors.ReasonOpenCircuit, simmerlinepb.QualityReason_QUALITY_REASON_OPEN_CIRCUIT},
	{sensors.ReasonShortCircuit, simmerlinepb.QualityReason_QUALITY_REASON_SHORT_CIRCUIT},
	{sensors.ReasonSettling, simmerlinepb.QualityReason_QUALITY_REASON_SETTLING},
	{sensors.ReasonWarmingUp, simmerlinepb.QualityReason_QUALITY_REASON_WARMING_UP},
	{sensors.ReasonPowerOnValue, simmerlinepb.QualityReason_QUALITY_REASON_POWER_ON_VALUE},
	{sensors.ReasonStuck, simmerlinepb.QualityReason_QUALITY_REASON_STUCK},
	{sensors.ReasonUnderTest, simmerlinepb.QualityReason_QUALITY_REASON_UNDER_TEST},
}}

var quantities = enum[sensors.Quantity, simmerlinepb.Quantity]{pairs: []pair[sensors.Quantity, simmerlinepb.Quantity]{
	{sensors.Temperature, simmerlinepb.Quantity_QUANTITY_TEMPERATURE},
	{sensors.GasLevel, simmerlinepb.Quantity_QUANTITY_GAS_LEVEL},
	{sensors.Contact, simmerlinepb.Quantity_QUANTITY_CONTACT},
	{sensors.Pressure, simmerlinepb.Quantity_QUANTITY_PRESSURE},
}}

var gases = enum[sensors.Gas, simmerlinepb.Gas]{pairs: []pair[sensors.Gas, simmerlinepb.Gas]{
	{sensors.HydrogenSulfide, simmerlinepb.Gas_GAS_HYDROGEN_SULFIDE},
	{sensors.SulfurDioxide, simmerlinepb.Gas_GAS_SULFUR_DIOXIDE},
	{sensors.Ammonia, simmerlinepb.Gas_GAS_AMMONIA},
	{sensors.CarbonMonoxide, simmerlinepb.Gas_GAS_CARBON_MONOXIDE},
	{sensors.OtherGas, simmerlinepb.Gas_GAS_OTHER},
}}

var portStates = enum[sensors.PortState, simmerlinepb.PortState]{pairs: []pair[sensors.PortState, simmerlinepb.PortState]{
	{sensors.PortUnknown, simmerlinepb.PortState_PORT_STATE_UNKNOWN},
	{sensors.PortMissing, simmerlinepb.PortState_PORT_STATE_MISSING},
	{sensors.PortOpening, simmerlinepb.PortState_PORT_STATE_OPENING},
	{sensors.PortOpen, simmerlinepb.PortState_PORT_STATE_OPEN},
	{sensors.PortBusy, simmerlinepb.PortState_PORT_STATE_BUSY},
	{sensors.PortDenied, simmerlinepb.PortState_PORT_STATE_DENIED},
}}

var bathKinds = enum[rules.BathKind, simmerlinepb.BathKind]{pairs: []pair[rules.BathKind, simmerlinepb.BathKind]{
	{rules.BathOther, simmerlinepb.BathKind_BATH_KIND_OTHER},
	{rules.BathSulfide, simmerlinepb.BathKind_BATH_KIND_SULFIDE},
	{rules.BathSoda, simmerlinepb.BathKind_BATH_KIND_SODA},
	{rules.BathRinse, simmerlinepb.BathKind_BATH_KIND_RINSE},
	{rules.BathPickle, simmerlinepb.BathKind_BATH_KIND_PICKLE},
}}

// A state that we don't know is taken for one that wants somebody.
var alarmStates = enum[rules.State, simmerlinepb.AlarmState]{
	unknown: rules.Unacknowledged,
	pairs: []pair[rules.State, simmerlinepb.AlarmState]{
		{rules.Normal, simmerlinepb.AlarmState_ALARM_STATE_NORMAL},
		{rules.Unacknowledged, simmerlinepb.AlarmState_ALARM_STATE_UNACKNOWLEDGED},
		{rules.Acknowledged, simmerlinepb.AlarmState_ALARM_STATE_ACKNOWLEDGED},
		{rules.RTNUnacknowledged, simmerlinepb.AlarmState_ALARM_STATE_RTN_UNACKNOWLEDGED},
		{rules.LatchedUnacknowledged, simmerlinepb.AlarmState_ALARM_STATE_LATCHED_UNACKNOWLEDGED},
		{rules.LatchedAcknowledged, simmerlinepb.AlarmState_ALARM_STATE_LATCHED_ACKNOWLEDGED},
		{rules.Shelved, simmerlinepb.AlarmState_ALARM_STATE_SHELVED},
		{rules.SuppressedByDesign, simmerlinepb.AlarmState_ALARM_STATE_SUPPRESSED_BY_DESIGN},
		{rules.OutOfService, simmerlinepb.AlarmState_ALARM_STATE_OUT_OF_SERVICE},
	},
}

var priorities = enum[rules.Priority, simmerlinepb.AlarmPriority]{pairs: []pair[rules.Priority, simmerlinepb.AlarmPriority]{
	{rules.Caution, simmerlinepb.AlarmPriority_ALARM_PRIORITY_CAUTION},
	{rules.Warning, simmerlinepb.AlarmPriority_ALARM_PRIORITY_WARNING},
	{rules.Danger, simmerlinepb.AlarmPriority_ALARM_PRIORITY_DANGER},
}}

var classes = enum[rules.Class, simmerlinepb.AlarmClass]{pairs: []pair[rules.Class, simmerlinepb.AlarmClass]{
	{rules.FumeDanger, simmerlinepb.AlarmClass_ALARM_CLASS_FUME_DANGER},
	{rules.FumeProtectionLost, simmerlinepb.AlarmClass_ALARM_CLASS_FUME_PROTECTION_LOST},
	{rules.BathDanger, simmerlinepb.AlarmClass_ALARM_CLASS_BATH_DANGER},
	{rules.EverythingElse, simmerlinepb.AlarmClass_ALARM_CLASS_EVERYTHING_ELSE},
}}

var causes = enum[rules.Cause, simmerlinepb.AlarmCause]{pairs: []pair[rules.Cause, simmerlinepb.AlarmCause]{
	{rules.CauseRaised, simmerlinepb.AlarmCause_ALARM_CAUSE_RAISED},
	{rules.CauseCleared, simmerlinepb.AlarmCause_ALARM_CAUSE_CLEARED},
	{rules.CauseAcknowledged, simmerlinepb.AlarmCause_ALARM_CAUSE_ACKNOWLEDGED},
	{rules.CauseReset, simmerlinepb.AlarmCause_ALARM_CAUSE_RESET},
	{rules.CauseSoundsAgain, simmerlinepb.AlarmCause_ALARM_CAUSE_SOUNDS_AGAIN},
	{rules.CauseWorsened, simmerlinepb.AlarmCause_ALARM_CAUSE_WORSENED},
	{rules.CauseSuppressed, simmerlinepb.AlarmCause_ALARM_CAUSE_SUPPRESSED},
	{rules.CauseUnsuppressed, simmerlinepb.AlarmCause_ALARM_CAUSE_UNSUPPRESSED},
}}

// A headline that we don't know is worth a look.
var headlines = enum[rules.Headline, simmerlinepb.Headline]{
	unknown: rules.HeadlineLook,
	pairs: []pair[rules.Headline, simmerlinepb.Headline]{
		{rules.HeadlineNoAlarm, simmerlinepb.Headline_HEADLINE_NO_ALARM},
		{rules.HeadlineLook, simmerlinepb.Headline_HEADLINE_LOOK},
		{rules.HeadlineHot, simmerlinepb.Headline_HEADLINE_HOT},
		{rules.HeadlineLeave, simmerlinepb.Headline_HEADLINE_LEAVE},
	},
}

var recordedGrades = enum[hub.Recorded, simmerlinepb.Recorded]{pairs: []pair[hub.Recorded, simmerlinepb.Recorded]{
	{hub.RecordedNo, simmerlinepb.Recorded_RECORDED_NO},
	{hub.RecordedWritten, simmerlinepb.Recorded_RECORDED_WRITTEN},
	{hub.RecordedSynced, simmerlinepb.Recorded_RECORDED_SYNCED},
}}

var noticeKinds = enum[hub.NoticeKind, simmerlinepb.NoticeKind]{pairs: []pair[hub.NoticeKind, simmerlinepb.NoticeKind]{
	{hub.NoticeStarted, simmerlinepb.NoticeKind_NOTICE_KIND_STARTED},
	{hub.NoticeSessionStarted, simmerlinepb.NoticeKind_NOTICE_KIND_SESSION_STARTED},
	{hub.NoticeSessionEnded, simmerlinepb.NoticeKind_NOTICE_KIND_SESSION_ENDED},
	{hub.NoticeMark, simmerlinepb.NoticeKind_NOTICE_KIND_MARK},
	{hub.NoticeInRange, simmerlinepb.NoticeKind_NOTICE_KIND_IN_RANGE},
	{hub.NoticePutAway, simmerlinepb.NoticeKind_NOTICE_KIND_PUT_AWAY},
	{hub.NoticeTakenIntoUse, simmerlinepb.NoticeKind_NOTICE_KIND_TAKEN_INTO_USE},
	{hub.NoticeClockStepped, simmerlinepb.NoticeKind_NOTICE_KIND_CLOCK_STEPPED},
	{hub.NoticeGap, simmerlinepb.NoticeKind_NOTICE_KIND_GAP},
}}

var sessionHows = enum[record.How, simmerlinepb.SessionHow]{pairs: []pair[record.How, simmerlinepb.SessionHow]{
	{record.ByCommand, simmerlinepb.SessionHow_SESSION_HOW_BY_COMMAND},
	{record.ByItself, simmerlinepb.SessionHow_SESSION_HOW_BY_ITSELF},
	{record.ByPowerLoss, simmerlinepb.SessionHow_SESSION_HOW_BY_POWER_LOSS},
}}

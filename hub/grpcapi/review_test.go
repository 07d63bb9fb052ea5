package grpcapi

import (
	"context"
	"fmt"
	"reflect"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"simmerline/hub"
	"simmerline/hub/record"
	"simmerline/hub/review"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
	"simmerline/sensors"
)

// Review gives the test's look back on session 1, and knows no other.
func (h *fakeHub) Review(_ context.Context, session string) (hub.LookBack, error) {
	if session != "1" {
		return hub.LookBack{}, fmt.Errorf("record: session %q: %w", session, record.ErrNotFound)
	}
	return hub.LookBack{Bench: "Pennywhistle Yard"}, nil
}

func drawSeconds(t *rapid.T, what string) float64 {
	return (time.Duration(rapid.Int64Range(0, 1e8).Draw(t, what)) * time.Millisecond).Seconds()
}

// perhaps draws nothing half of the time.
func perhaps[T any](t *rapid.T, draw func() T) *T {
	if rapid.Bool().Draw(t, "none") {
		return nil
	}
	drawn := draw()
	return &drawn
}

func drawPoint(t *rapid.T) review.Point {
	return review.Point{
		Run: rapid.Int64Range(1, 9).Draw(t, "run"), OffsetSeconds: drawSeconds(t, "offset"),
		Wall: time.Unix(0, rapid.Int64Range(0, 2e18).Draw(t, "wall")).UTC(),
	}
}

func several[T any](t *rapid.T, draw func(int) T) []T {
	all := []T{}
	for i := range rapid.IntRange(0, 3).Draw(t, "how many") {
		all = append(all, draw(i))
	}
	return all
}

func drawLookBack(t *rapid.T) hub.LookBack {
	word := func() string { return rapid.StringMatching(`[a-z ]{0,9}`).Draw(t, "word") }
	flag := func() bool { return rapid.Bool().Draw(t, "flag") }
	figure := func() *float64 {
		return perhaps(t, func() float64 { return rapid.Float64Range(-50, 500).Draw(t, "figure") })
	}
	length := func() float64 { return drawSeconds(t, "length") }
	count := func() int64 { return rapid.Int64Range(0, 1e9).Draw(t, "count") }
	back := hub.LookBack{Bench: word(), BenchChanged: flag(), Fahrenheit: flag(), LimitFrom: map[string]string{}}
	back.From, back.Until = drawPoint(t), drawPoint(t)
	back.LengthSeconds, back.WatchedSeconds, back.DarkSeconds = length(), length(), length()
	back.Session = perhaps(t, func() review.Session {
		return review.Session{
			ID: count(), Name: word(), StartedHow: string(record.ByItself), StartedBy: word(),
			EndedHow: rapid.SampledFrom([]string{"", string(record.ByCommand), string(record.ByPowerLoss)}).Draw(t, "ended"), EndedBy: word(),
		}
	})
	back.Baths = several(t, func(i int) review.Bathed {
		b := review.Bathed{
			Bath: fmt.Sprint("bath-", i), Title: word(), LeastCelsius: figure(), MeanCelsius: figure(), MostCelsius: figure(),
			RangeLowCelsius: figure(), RangeHighCelsius: figure(), TimeInRangeSeconds: perhaps(t, length), LimitCelsius: figure(),
			TimeOverLimitSeconds: perhaps(t, length), KnownSeconds: length(), NoTrustedValueSeconds: length(), Readings: count(),
		}
		if b.LimitCelsius != nil {
			back.LimitFrom[b.Bath] = word()
		}
		return b
	})
	back.Gases = several(t, func(i int) review.Gassed {
		g := review.Gassed{
			Channel: fmt.Sprint("gas-", i), Title: word(), Gas: rapid.SampledFrom(sensors.Gases).Draw(t, "gas").String(),
			LeastPPM: figure(), MeanPPM: figure(), MostPPM: figure(), LimitPPM: figure(), TimeOverLimitSeconds: perhaps(t, length),
			TimeOverRangeSeconds: length(), KnownSeconds: length(), NoTrustedValueSeconds: length(), Readings: count(),
		}
		if g.LimitPPM != nil {
			back.LimitFrom[g.Channel] = word()
		}
		return g
	})
	at := func() *review.Point { return perhaps(t, func() review.Point { return drawPoint(t) }) }
	back.Alarms = several(t, func(int) review.Alarm {
		return review.Alarm{
			Alarm: word(), Subject: word(), Sentence: word(), Priority: rapid.SampledFrom(rules.Priorities).Draw(t, "priority").String(),
			Class: rapid.SampledFrom(rules.Classes).Draw(t, "class").String(), Raised: at(), Cleared: at(), Acknowledged: at(),
			AcknowledgedBy: word(), AcknowledgedWhy: word(), Reset: at(), ResetBy: word(), Stands: flag(),
		}
	})
	back.Marks = several(t, func(int) review.Mark { return review.Mark{At: drawPoint(t), Text: word(), By: word()} })
	back.Dark = several(t, func(int) review.Dark {
		return review.Dark{From: drawPoint(t), Until: drawPoint(t), Seconds: length(), Slept: flag()}
	})
	back.Gaps = several(t, func(int) review.Gap {
		return review.Gap{From: drawPoint(t), Until: drawPoint(t), Why: word(), Readings: count(), Events: count()}
	})
	return back
}

func TestReviewComesBackAsItWas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		back := drawLookBack(t)
		encoded, err := proto.Marshal(reviewToWire(back))
		if err != nil {
			t.Fatal(err)
		}
		var wire simmerlinepb.Review
		if err := proto.Unmarshal(encoded, &wire); err != nil {
			t.Fatal(err)
		}
		if got := ReviewFromWire(&wire); !reflect.DeepEqual(got, back) {
			t.Fatalf("went out as %+v\ncame back as %+v", back, got)
		}
	})
}

func TestReviewIsAskedByItsWord(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		client := simmerlinepb.NewSessionServiceClient(s.client)
		got, err := client.ReviewSession(ctx, &simmerlinepb.ReviewSessionRequest{Session: "1"})
		if err != nil || got.GetReview().GetBench() != "Pennywhistle Yard" {
			t.Errorf("session 1: got %v, %v", got, err)
		}
		for word, code := range map[string]codes.Code{"": codes.InvalidArgument, "x\ny": codes.InvalidArgument, "2": codes.NotFound} {
			_, err := client.ReviewSession(ctx, &simmerlinepb.ReviewSessionRequest{Session: word})
			if status.Code(err) != code || violations(err)["session"] == "" {
				t.Errorf("session %q: got %v, %v; want %v of the field session", word, err, violations(err), code)
			}
		}
	})
}

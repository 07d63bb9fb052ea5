package hub

import (
	"context"
	"errors"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// A hub is stopped amid two hundred clients, a tenth of which never take
// anything, while ports deliver and people act. Nobody is left waiting: a
// goroutine that stayed would keep the bubble from ending.
func TestStopLeavesNobodyWaiting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, t.TempDir(), nil)
		var all sync.WaitGroup
		var mu sync.Mutex
		ends := map[string]int{}
		note := func(err error) {
			mu.Lock()
			defer mu.Unlock()
			switch {
			case errors.Is(err, ErrStopping):
				ends["stopping"]++
			case errors.Is(err, ErrTooSlow):
				ends["too slow"]++
			default:
				ends[err.Error()]++
			}
		}
		for i := range 200 {
			all.Go(func() {
				w, err := b.hub.Watch(context.Background(), WatchOptions{Resume: i%3 == 0, Station: i%2 == 0})
				if err != nil {
					note(err)
					return
				}
				defer w.Close()
				if i%10 == 0 {
					time.Sleep(time.Minute)
				}
				for err == nil {
					_, err = w.Next(context.Background())
				}
				note(err)
			})
		}
		for range 20 {
			all.Go(func() {
				var err error
				for err == nil {
					time.Sleep(200 * time.Millisecond) // a bubble's time stands while the disk is at work
					_, err = b.hub.Mark(context.Background(), "stirred", "Ilo")
				}
				note(err)
			})
		}
		stopped := make(chan struct{})
		all.Go(func() {
			for {
				select {
				case <-stopped:
					return
				default:
					b.deliver(map[string]float64{"hot": 60, "h2s": 6})
					time.Sleep(5 * time.Millisecond)
				}
			}
		})
		time.Sleep(3 * time.Second)
		b.stop()
		close(stopped)
		all.Wait()
		for why, n := range ends {
			if why != "stopping" && (why != "too slow" || n > 20) {
				t.Errorf("%d ended with: %s", n, why)
			}
		}
	})
}

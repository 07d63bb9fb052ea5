package grpcapi

import (
	"time"

	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"
)

// healthEvery is how often the hub is asked whether it lives.
const healthEvery = time.Second

// watchHealth keeps the health service true to the hub until the server stops:
// NOT_SERVING while the loop is stuck, although the process lives. There is
// one health for the whole hub, under the empty name, and the same for each
// service under its own.
func (s *Server) watchHealth() {
	tick := time.NewTicker(healthEvery)
	defer tick.Stop()
	var last healthgrpc.HealthCheckResponse_ServingStatus
	for {
		now := healthgrpc.HealthCheckResponse_NOT_SERVING
		if s.served.hub.Alive() && s.served.hub.Snapshot() != nil {
			now = healthgrpc.HealthCheckResponse_SERVING
		}
		if now != last {
			s.health.SetServingStatus("", now)
			for name := range s.grpc.GetServiceInfo() {
				s.health.SetServingStatus(name, now)
			}
			if last == healthgrpc.HealthCheckResponse_SERVING { // else it is only starting
				s.served.log.Error("the hub's loop does not turn: clients are told that it is not serving")
			}
			last = now
		}
		select {
		case <-tick.C:
		case <-s.served.stopping.Done():
			s.health.Shutdown()
			return
		}
	}
}

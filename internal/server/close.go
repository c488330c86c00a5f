package server

import (
	"context"
	"errors"
	"net"
	"net/http"
	"sync"
	"time"
)

// open is what answers at the moment, so that it can be ended in order: a
// request runs programs, and none may be left behind.
type open struct {
	mu      sync.Mutex
	serving []*http.Server
	under   int           // requests under way
	closed  bool          // no more are taken
	none    chan struct{} // closed when the last is done after that
	ctx     context.Context
	stop    context.CancelFunc
}

func (o *open) begin() {
	o.none = make(chan struct{})
	o.ctx, o.stop = context.WithCancel(context.Background())
}

// enter counts a request in; it is false when lampwise is ending.
func (o *open) enter() bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.closed {
		return false
	}
	o.under++
	return true
}

func (o *open) leave() {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.under--; o.under == 0 && o.closed {
		close(o.none)
	}
}

// closing is how long requests under way may take to end once they are told to.
const closing = 5 * time.Second

// end tells the requests under way to end, waits for them and closes all
// connections.
func (o *open) end() {
	o.stop()
	o.mu.Lock()
	serving := o.serving
	if !o.closed {
		o.closed = true
		if o.under == 0 {
			close(o.none)
		}
	}
	o.mu.Unlock()
	select {
	case <-o.none:
	case <-time.After(closing):
	}
	for _, h := range serving {
		_ = h.Close()
	}
}

// Close ends the jobs and the requests that are under way, with the programs
// they run, and waits for them.
func (s *Server) Close() {
	s.open.stop()
	s.jobs.close()
	s.live.Close()
	s.open.end()
}

// Serve answers on a listener until it or the server is closed.
func (s *Server) Serve(l net.Listener) error { return s.serve(l, s) }

// ServeLAN answers phones on listeners of the local network until they are closed.
func (s *Server) ServeLAN(listeners []net.Listener) error {
	var hosts []string
	for _, l := range listeners {
		hosts = append(hosts, l.Addr().String())
	}
	h := s.LAN(hosts)
	ended := make(chan error, len(listeners))
	for _, l := range listeners {
		go func() { ended <- s.serve(l, h) }()
	}
	var err error
	for range listeners {
		err = errors.Join(err, <-ended)
	}
	return err
}

func (s *Server) serve(l net.Listener, handler http.Handler) error {
	h := &http.Server{
		Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if !s.open.enter() {
				return
			}
			defer s.open.leave()
			handler.ServeHTTP(w, r)
		}),
		ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 30 * time.Second, WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 32 << 10,
		BaseContext: func(net.Listener) context.Context { return s.open.ctx },
	}
	s.open.mu.Lock()
	s.open.serving = append(s.open.serving, h)
	s.open.mu.Unlock()
	err := h.Serve(l)
	if errors.Is(err, http.ErrServerClosed) || errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}

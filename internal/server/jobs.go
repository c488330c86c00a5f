package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"sync"
	"time"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

// Job is a long piece of work and how far it is.
type Job struct {
	ID     string     `json:"id"`
	Kind   string     `json:"kind"` // render, verify, learn, check, measure
	Title  string     `json:"title"`
	State  string     `json:"state"` // running, done, failed, cancelled
	Step   *JobStep   `json:"step"`
	Result any        `json:"result"` // of the kind's own type, when done; of one that failed to learn, the holds found
	Error  *errorBody `json:"error"`
}

// JobStep is what a running job is at.
type JobStep struct {
	What   string `json:"what"`
	Done   int64  `json:"done"`
	Total  int64  `json:"total"`
	Detail string `json:"detail"`
}

type jobs struct {
	mu      sync.Mutex
	list    []*Job
	stop    map[string]context.CancelFunc
	hearing map[chan Job]bool
	next    int
	ctx     context.Context
	cancel  context.CancelFunc
	running sync.WaitGroup
}

const (
	maxRunning = 3  // jobs at the same time
	maxKept    = 40 // jobs remembered
)

func newJobs() *jobs {
	j := &jobs{stop: map[string]context.CancelFunc{}, hearing: map[chan Job]bool{}}
	j.ctx, j.cancel = context.WithCancel(context.Background())
	return j
}

func (j *jobs) close() {
	j.cancel()
	j.running.Wait()
}

// start runs work on its own and tells of it to whoever listens.
func (j *jobs) start(kind, title string, work func(ctx context.Context, report job.Progress) (any, error)) (*Job, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if len(j.stop) >= maxRunning {
		return nil, fault.New(fault.Usage, "busy", "Wait until one is done, or cancel one.", "%d jobs run already", len(j.stop))
	}
	j.next++
	ctx, cancel := context.WithCancel(j.ctx)
	one := &Job{ID: fmt.Sprint(j.next), Kind: kind, Title: title, State: "running"}
	j.list = append(j.list, one)
	if len(j.list) > maxKept && j.list[0].State != "running" {
		j.list = j.list[1:]
	}
	j.stop[one.ID] = cancel
	j.tell(*one)
	j.running.Go(func() {
		defer cancel()
		res, err := work(ctx, func(s job.Step) {
			j.change(one, func() { one.Step = &JobStep{s.What, s.Done, s.Total, s.Detail()} })
		})
		j.change(one, func() {
			delete(j.stop, one.ID)
			switch {
			case err == nil:
				one.State, one.Result = "done", res
			case ctx.Err() != nil || errors.Is(err, context.Canceled):
				one.State = "cancelled"
			default:
				body, _ := errorOf(err)
				one.State, one.Error = "failed", &body
				if found := (*job.HoldsFound)(nil); errors.As(err, &found) {
					one.Result, body.Hint = found, found.Hint()
				}
			}
		})
	})
	told := *one
	return &told, nil
}

func (j *jobs) change(one *Job, how func()) {
	j.mu.Lock()
	defer j.mu.Unlock()
	how()
	j.tell(*one)
}

// tell hands a job's state on; who is slow misses steps, never the last state,
// since that waits in the buffer.
func (j *jobs) tell(one Job) {
	for c := range j.hearing {
		select {
		case c <- one:
		default:
			if one.State != "running" {
				select {
				case <-c:
				default:
				}
				c <- one
			}
		}
	}
}

func (j *jobs) cancelJob(id string) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if stop := j.stop[id]; stop != nil {
		stop()
	}
}

func (j *jobs) listen() (chan Job, []Job) {
	j.mu.Lock()
	defer j.mu.Unlock()
	c := make(chan Job, 64)
	j.hearing[c] = true
	var all []Job
	for _, one := range j.list {
		all = append(all, *one)
	}
	return c, all
}

func (j *jobs) leave(c chan Job) {
	j.mu.Lock()
	defer j.mu.Unlock()
	delete(j.hearing, c)
}

// events tells of the jobs as server-sent events: which start of lampwise this
// is, all jobs, then each change.
func (s *Server) events(w http.ResponseWriter, r *http.Request) {
	s.tellJobs(w, r, func(Job) bool { return true })
}

// tellJobs tells of the jobs that are wanted.
func (s *Server) tellJobs(w http.ResponseWriter, r *http.Request, wanted func(Job) bool) {
	c, all := s.jobs.listen()
	defer s.jobs.leave(c)
	w.Header().Set("Content-Type", "text/event-stream")
	control := http.NewResponseController(w)
	_ = control.SetWriteDeadline(time.Time{})
	_ = control.SetReadDeadline(time.Time{})
	send := func(one Job) bool {
		if !wanted(one) {
			return true
		}
		data, err := json.Marshal(one)
		if err != nil {
			return true
		}
		if _, err = fmt.Fprintf(w, "event: job\ndata: %s\n\n", data); err != nil {
			return false
		}
		return control.Flush() == nil
	}
	fmt.Fprintf(w, "event: start\ndata: %q\n\n", s.begun)
	_ = control.Flush()
	for _, one := range all {
		if !send(one) {
			return
		}
	}
	beat := time.NewTicker(15 * time.Second)
	defer beat.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case <-s.jobs.ctx.Done():
			return
		case one := <-c:
			if !send(one) {
				return
			}
		case <-beat.C:
			if _, err := fmt.Fprint(w, ": here\n\n"); err != nil {
				return
			}
			_ = control.Flush()
		}
	}
}

package job

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"lampwise/internal/caller"
	"lampwise/internal/fault"
)

// TestRunCall: each step is said, then called, in order; stopping it says so.
func TestRunCall(t *testing.T) {
	plan, err := caller.Make("all, -key", []string{"key", "fill"}, []caller.Hold{{Text: "all", Setting: []float64{1, 1}}, {Text: "-key", Setting: []float64{0, 1}}}, 4)
	if err != nil {
		t.Fatal(err)
	}
	var told []string
	var waited []time.Duration
	v := Voice{
		Quiet: true,
		Tell:  func(s caller.Step, now bool) { told = append(told, fmt.Sprint(s.Say, " ", now)) },
		After: func(d time.Duration) <-chan time.Time {
			waited = append(waited, d.Round(100*time.Millisecond))
			c := make(chan time.Time, 1)
			c <- time.Now()
			return c
		},
	}
	if err := RunCall(context.Background(), plan, v); err != nil {
		t.Fatal(err)
	}
	if want := []string{"all on false", "all on true", "key off false", "key off true", "done true"}; !slices.Equal(told, want) {
		t.Errorf("told %q", told)
	}
	if !slices.IsSorted(waited) || waited[0] != 3*time.Second {
		t.Errorf("waited for %v", waited)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	v.After = func(time.Duration) <-chan time.Time { return nil }
	err = RunCall(ctx, plan, v)
	if f, ok := fault.As(err); !ok || f.Class != fault.Cancelled || !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}

package job

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"lampwise/internal/caller"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
)

// CallRequest asks for a switching order to be called.
type CallRequest struct {
	Set   string // its order, where none is said
	Order string
	Hold  float64 // s from beep to beep
	WAV   string  // file for the sound; empty: none is written
	// Overwrite lets WAV take the place of a file.
	Overwrite bool
}

// Called is the schedule: docs/json.md, call.
type Called struct {
	*caller.Plan
	File   string   `json:"file"`   // of the sound; "" when none was asked for
	Advice []string `json:"advice"` // who sits there meanwhile
	Notes  []string `json:"notes"`
}

// Sitting says who may sit in the picture while lamps are switched, the best
// first (common practice, no source).
func Sitting() []string { return slices.Clone(sitting) }

var sitting = []string{
	"a stand-in (a ball on a stand, a coat on a chair, a card): best, since it keeps still and shows how each lamp falls on a face's place",
	"a person who sits still: fine, if somebody else is at the switches, or a remote is in the hand; look at one point and breathe calmly",
	"nobody: works, too; the lamps are then learned on the room, and what they do to a face is not known until a clip with one is learned",
}

// PlanCall plans the calls of an order, remembers the order, so that learn knows
// its beeps, and writes the sound where that is asked for.
func PlanCall(ctx context.Context, store Sets, r CallRequest) (*Called, error) {
	text := r.Order
	if text == "" && r.Set != "" {
		set, err := store.Set(ctx, r.Set)
		if err != nil {
			return nil, err
		}
		text = set.Settings.Order
	}
	if text == "" {
		return nil, fault.New(fault.Usage, "order-missing", `For example --order "all, -key, all, -fill, all, dark"; lampwise learn --advise 5 proposes one.`, "what is to be switched? --order or --set is missing")
	}
	order, err := lamps.ParseOrder(text, nil)
	if err != nil {
		return nil, err
	}
	if r.Order == "" {
		asSwitched(order)
	}
	if err := order.Design(nil).Rank().Err(); err != nil {
		return nil, err
	}
	if !(r.Hold >= caller.LeastHold && r.Hold <= caller.MostHold) {
		return nil, fault.New(fault.Usage, "call-hold", "4 s leaves a second for the hand and three for the light, which is enough for most lamps.",
			"a hold of %g s is not between %g and %g s", r.Hold, caller.LeastHold, caller.MostHold)
	}
	var holds []caller.Hold
	for i, h := range order.Holds {
		holds = append(holds, caller.Hold{Text: order.HoldText(i), Setting: h.Setting})
	}
	plan, err := caller.Make(order.String(), order.Lamps, holds, r.Hold)
	if err != nil {
		return nil, fmt.Errorf("plan the calls: %w", err)
	}
	out := &Called{Plan: plan, Advice: Sitting(), Notes: []string{}}
	if r.WAV != "" {
		if err := writeFile(r.WAV, r.Overwrite, callSound(plan)); err != nil {
			return nil, err
		}
		out.File = r.WAV
	}
	return out, store.KeepCall(ctx, plan.Order, time.Now())
}

// asSwitched takes the dimmers' readings that a set was learned with out of its
// order again: where a lamp stands when it is on is not called.
func asSwitched(o *lamps.Order) {
	for i := range o.Lamps {
		top := 0.0
		for _, h := range o.Holds {
			top = max(top, h.Setting[i])
		}
		for _, h := range o.Holds {
			if h.Setting[i] == top && top > 0 {
				h.Setting[i] = 1
			}
		}
	}
}

func callSound(p *caller.Plan) []byte {
	return caller.WAV(caller.Sound(p.Marks(), p.Length), caller.Rate)
}

// Voice is how a schedule is heard while it runs.
type Voice struct {
	Tell  func(s caller.Step, now bool) // writes a step: when it is said, and when it is switched
	Quiet bool                          // no program makes sound: the caller's own loudspeaker elsewhere does
	After func(time.Duration) <-chan time.Time
}

// Sounding says with what programs a schedule would be heard; either may be "".
func Sounding() (player, speaker string) {
	if p := media.FindPlayer(); p != nil {
		player = p.Name
	}
	if p := media.FindSpeaker(); p != nil {
		speaker = p.Name
	}
	return player, speaker
}

// RunCall runs a schedule on the clock: beeps from the loudspeaker, speech where
// there is a voice, and Tell for the terminal. A player that fails ends it,
// since a clip without its beeps is not what was asked for.
func RunCall(ctx context.Context, plan *caller.Plan, v Voice) error {
	if v.After == nil {
		v.After = time.After
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	failed := make(chan error, 1)
	if player := media.FindPlayer(); player != nil && !v.Quiet {
		dir, err := os.MkdirTemp("", "lampwise-call-")
		if err != nil {
			return fmt.Errorf("call: %w", err)
		}
		defer os.RemoveAll(dir)
		file := filepath.Join(dir, "call.wav")
		if err := os.WriteFile(file, callSound(plan), 0o600); err != nil {
			return fmt.Errorf("call: %w", err)
		}
		done := make(chan struct{})
		defer func() { <-done }()
		defer cancel()
		go func() {
			defer close(done)
			began := time.Now()
			err := player.Run(ctx, file)
			// One that finds no loudspeaker may end at once and call that a success.
			early := time.Since(began) < secondsOf(plan.Length)-2*time.Second
			if ctx.Err() == nil && (err != nil || early) {
				failed <- fault.Wrap(err, fault.Missing, "player", "Is a loudspeaker there and on? --wav FILE writes the sound for a phone to play; --quiet goes on without beeps.",
					"%s does not play the beeps", player.Name)
			}
		}()
	}
	var speaker *media.Player
	if !v.Quiet {
		speaker = media.FindSpeaker()
	}
	began := time.Now()
	wait := func(at float64) error {
		select {
		case <-ctx.Done():
			return fault.Wrap(context.Cause(ctx), fault.Cancelled, "cancelled", "", "stopped before the order was through")
		case err := <-failed:
			return err
		case <-v.After(time.Until(began.Add(secondsOf(at)))):
			return nil
		}
	}
	for _, s := range plan.Steps {
		if s.Ready < s.Now {
			if err := wait(s.Ready); err != nil {
				return err
			}
			v.Tell(s, false)
			if speaker != nil {
				go speaker.Run(ctx, s.Say) //nolint:errcheck // the words are on the terminal, too
			}
		}
		if err := wait(s.Now); err != nil {
			return err
		}
		v.Tell(s, true)
	}
	return wait(plan.Length)
}

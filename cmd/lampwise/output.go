package main

// The rules of output, for every command:
//
//   - stdout carries the answer and nothing else: readable text, or with
//     --json one JSON object. It can be piped anywhere.
//   - stderr carries progress, notes and errors. Progress shows only when
//     stderr is a terminal; notes are whole lines.
//   - An error is one line, "lampwise: what is wrong and where", then a line
//     "hint: what to do". With --json the error is an object on stdout,
//     {"error": {"code", "message", "hint"}}, and stderr stays silent.
//   - No colour and no cursor movement is written but for the progress bar,
//     which respects NO_COLOR by having none.
//   - The exit code is 0, or as docs/json.md lists.

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/term"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

// exitDefect is the exit code of an error that is ours, not the user's.
const exitDefect = 1

// app is what every command shares: where to write, and the common flags.
type app struct {
	out, err io.Writer
	json     bool
	data     string
}

// answer writes v as JSON, or calls text to write the readable form.
func (a *app) answer(v any, text func(w io.Writer)) error {
	if !a.json {
		text(a.out)
		return nil
	}
	enc := json.NewEncoder(a.out)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// note writes one whole line to stderr; with --json notes are left out, since
// what they say stands in the object.
func (a *app) note(format string, args ...any) {
	if !a.json {
		fmt.Fprintf(a.err, format+"\n", args...)
	}
}

// fail writes the error by the rules above and returns its exit code.
func (a *app) fail(err error) int {
	type errorJSON struct {
		Code    string `json:"code"`
		Message string `json:"message"`
		Hint    string `json:"hint"`
	}
	code, e := exitDefect, errorJSON{Code: "defect", Message: oneLine(err.Error()), Hint: "This should not happen; please report it with the command you gave."}
	if f, ok := fault.As(err); ok {
		code, e = int(f.Class), errorJSON{Code: f.Code, Message: oneLine(f.Message), Hint: oneLine(f.Hint)}
	} else if errors.Is(err, context.Canceled) {
		code, e = int(fault.Cancelled), errorJSON{Code: "cancelled", Message: "stopped", Hint: "Nothing was left under the final name."}
	}
	if a.json {
		_ = a.answer(struct {
			Error errorJSON `json:"error"`
		}{e}, nil)
		return code
	}
	fmt.Fprintf(a.err, "lampwise: %s\n", e.Message)
	if e.Hint != "" {
		fmt.Fprintf(a.err, "hint: %s\n", e.Hint)
	}
	return code
}

func oneLine(s string) string {
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == '\n' || r == '\r' }), " ")
}

// table writes aligned columns: cells by tabs, a line each.
func table(w io.Writer, rows func(line func(cells ...string))) {
	tw := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	rows(func(cells ...string) { fmt.Fprintln(tw, strings.Join(cells, "\t")) })
	_ = tw.Flush()
}

// progress returns a report for a long job and a function that ends it.
func (a *app) progress() (job.Progress, func()) {
	f, ok := a.err.(*os.File)
	if a.json || !ok || !term.IsTerminal(int(f.Fd())) {
		return func(job.Step) {}, func() {}
	}
	p := mpb.New(mpb.WithOutput(f), mpb.WithWidth(40), mpb.WithRefreshRate(200*time.Millisecond))
	var bar *mpb.Bar
	var what string
	var detail string
	report := func(s job.Step) {
		if bar == nil || what != s.What {
			if bar != nil {
				bar.SetTotal(-1, true)
			}
			what = s.What
			bar = p.AddBar(s.Total,
				mpb.PrependDecorators(decor.Name(s.What, decor.WCSyncSpaceR)),
				mpb.AppendDecorators(decor.Any(func(decor.Statistics) string { return detail })))
		}
		detail = s.Detail()
		bar.SetTotal(s.Total, false)
		bar.SetCurrent(s.Done)
	}
	return report, func() {
		if bar != nil {
			bar.SetTotal(-1, true)
		}
		p.Wait()
	}
}

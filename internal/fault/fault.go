// Package fault holds the one kind of error that is meant for the user's eyes.
//
// A fault says what is wrong and where in one line, and what to do next in a
// hint. Every other error is ours: wrapped with context and shown as a defect.
// The package is a leaf, so that a parser deep in the tree and the command at
// the top speak of the same thing.
package fault

import (
	"errors"
	"fmt"
)

// Class sorts faults by what the user can do; it decides the exit code.
type Class int

// The classes, and the exit code each ends the program with (docs/json.md).
const (
	Usage     Class = 2   // the command line or a settings file is wrong
	Drift     Class = 3   // the work was done, and what was checked is not as it should be
	Unsure    Class = 4   // the work was done, and no safe answer exists
	Input     Class = 5   // a file given cannot be used
	Missing   Class = 6   // a program this needs is absent or too old
	Storage   Class = 7   // disk full, folder not writable, file in the way
	Cancelled Class = 130 // the user stopped it
)

// Fault is an error with a stable code, one line for the user and a hint.
type Fault struct {
	Class   Class
	Code    string // stable, lower case with hyphens: "lut-count"
	Message string // one line; starts with the file (and line) where there is one
	Hint    string // what to do next; may be empty
	Err     error  // the cause, kept for errors.Is and the log
}

func (f *Fault) Error() string { return f.Message }

// Unwrap gives the cause.
func (f *Fault) Unwrap() error { return f.Err }

// New makes a fault; format and args make its message.
func New(class Class, code, hint, format string, args ...any) *Fault {
	return &Fault{Class: class, Code: code, Hint: hint, Message: fmt.Sprintf(format, args...)}
}

// Wrap makes a fault that keeps err as its cause.
func Wrap(err error, class Class, code, hint, format string, args ...any) *Fault {
	f := New(class, code, hint, format, args...)
	f.Err = err
	return f
}

// As returns the first fault in err's chain.
func As(err error) (*Fault, bool) {
	var f *Fault
	ok := errors.As(err, &f)
	return f, ok
}

// Package job holds the use cases: what a person does with lampwise, each as
// one call with progress and cancel. The commands and the page call the same
// ones, so neither can do what the other can't.
//
// Invariants: a clip is only ever read; a result bears its final name when it
// is whole and on the disk, never before; every error a person can cause is a
// fault with a hint.
package job

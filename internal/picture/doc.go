// Package picture holds frames, the steps (ops) a colour goes through, and
// the executors that carry a program of such steps out on frames.
//
// Invariants:
//   - A Program is plain data. It says what is computed, never how; what runs
//     it (the plain reference here, the fused kernel, the page's shader) knows
//     nothing of where it came from.
//   - The plain reference (Program.RunPlain) is float64, one pixel at a time,
//     and defines the result. Every faster executor is held to it by a test
//     that fails when the fast path did not run.
//   - Ops are total: finite input gives finite output.
//   - Dither is a function of place, plane, frame number and seed, and the same
//     integer in every executor; so is every choice of a sample's neighbours.
package picture

// Package caller is the voice and the beeps that tell the person at the
// switches what to switch, and that mark the holds on the clip's sound track.
//
// It is pure: a schedule of what is said when (Plan), the code each beep
// carries (Mark), its sound (Sound), and the detector that finds the marks in a
// recorded sound track again (Listen). Nothing here makes a noise, waits or
// opens a file.
//
// A mark is a chirp, by which its time is found, and eight tones out of
// sixteen, which carry 16 bits: the step's number and a number of the order, in
// a Reed–Solomon code of minimum distance 5 (Reed and Solomon, "Polynomial
// codes over certain finite fields", J. SIAM 8, 1960), decoded by trying every
// word against the tones' energies.
package caller

// Package region says where in a picture the things lie that are measured:
// the lit and the shaded side of a face, hair, background, a lamp that is
// seen, a grey card. Regions are drawn by a person (Parse) or found (Find).
//
// Invariants:
//   - places are parts of the picture's width and height, 0 to 1 from the upper
//     left corner, whatever the picture's size;
//   - what is found carries a confidence (0..1) and a reason in words. Below
//     Sure it is no region but a doubt, told and not used;
//   - same picture, same answer: nothing here depends on chance or on the
//     number of processors;
//   - the face finder is a library's (esimov/pigo); it misses profiles and dark
//     faces, and a person can always draw what it misses.
package region

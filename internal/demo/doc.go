// Package demo makes the example: a bicycle mechanic who films repair lessons
// in a one-car garage. Everything in it is generated.
//
// The way of the data: a room of triangles (room.go, bench.go, bicycle.go,
// figure*.go) is path-traced once, giving one linear picture for each lamp
// (tracer.go); because light adds, any mix of lamps is a sum of those
// pictures. A camera (camera.go) turns the sum into what a sensor would have
// recorded, with its noise and its clipping, and encodes it with a log curve;
// media writes the clips. The truth is written beside them (truth.go).
//
// Invariants:
//   - the renderer shares no formula with the planner: package light is not
//     imported, so that the example cannot prove the planner with itself;
//   - a picture is linear in each lamp's light: nothing before the camera
//     looks at the sum;
//   - same seed and size, same codes in every frame, on any number of cores
//     (the encoder's bytes may differ from one build of it to the next).
//
// Lengths are metres, x to the right of the picture, y up, z toward the camera.
package demo

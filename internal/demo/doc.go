// Package demo makes the example: a bicycle mechanic who films repair lessons
// in a one-car garage. Everything in it is generated.
//
// The way of the data: a room of triangles (scene.go puts it together from
// room.go, bench.go, bicycle.go, tools.go and figure.go) is path-traced once,
// giving one linear picture for each lamp (tracer.go, bounce.go, layer.go);
// because light adds, any mix of lamps is a sum of those pictures (Studio).
// Film makes frames of it: the mechanic is a layer of his own that is bent a
// little from frame to frame, and the Camera turns light into what a sensor
// would have recorded, with its noise and its clipping, and encodes it with a
// log curve. script.go says what happens in the three clips, media writes
// them, and the truth is written beside them (truth.go).
//
// Invariants:
//   - the renderer shares no formula with the planner: package light is not
//     imported, so that the example cannot prove the planner with itself;
//   - a picture is linear in each lamp's light: nothing before the camera
//     looks at the sum;
//   - same seed and size, same codes in every frame, on any number of cores of
//     one kind of processor (another kind may round float32 differently, and
//     the encoder's bytes may differ from one build of it to the next).
//
// Lengths are metres, x to the right of the picture, y up, z toward the camera.
package demo

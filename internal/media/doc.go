// Package media is the only place that runs other programs: ffprobe to learn
// what a clip is, ffmpeg to decode it and to encode the finished picture.
//
// Invariants:
//
//   - Programs are started from argument lists, never through a shell, and
//     every file is named with the file: protocol, so that a name's dashes,
//     colons, blanks and per cent signs mean nothing.
//   - Frames cross the pipe as planar Y′CbCr codes at the clip's own depth,
//     each with its own timestamp, in a NUT stream (nut.go). No scaler stands
//     in the way: the codes are the file's, to the bit.
//   - The picture is never turned. A rotated clip is read as it is stored, and
//     its display matrix is written into the output unchanged, so that the
//     result is shown the same way up.
//   - The original clip is never written to. An output gets a temporary name
//     in its own folder, is checked, synced and only then renamed; a render
//     that did not finish never bears the final name.
//   - A child process is always waited for, its complaints are kept in bounded
//     memory, and a cancelled context ends it.
//
// Only local files are read: ffmpeg's network protocols and the play-list
// formats that lead from one file to others are switched off.
package media

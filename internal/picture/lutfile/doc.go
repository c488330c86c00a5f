// Package lutfile reads and writes colour look-up files: text cubes (.cube),
// Common LUT Format (.clf; Academy S-2014-006, SMPTE ST 2136-1) and ASC Color
// Decision Lists (.cc, .ccc, .cdl).
//
// What holds:
//
//   - A file is either understood whole or refused. Refusals are faults that
//     start with file:line and say what was expected there.
//   - Every number read is finite and at most the largest single precision
//     float; counts are exact; the sizes below are never exceeded.
//   - Chains come out in unit scale: 0 and 1 are the ends of an integer code
//     range, whatever bit depth the file was written for.
//   - What is written reads back to the same numbers, to the last bit, except
//     where a writer says otherwise. A writer refuses what its format can't say.
//   - XML is read without document types and without entities of a file's own.
//
// Writers take an io.Writer; putting a file in its place whole is the caller's.
package lutfile

import "lampwise/internal/picture"

// The largest things a file may hold. Real files stay far below.
const (
	// MaxFileBytes bounds any file. A cube of MaxSize3D is about 130 MB of text.
	MaxFileBytes = 256 << 20
	// MaxLineBytes bounds a line of a text cube (its specification says 250).
	MaxLineBytes = 4096
	// MinSize and MaxSize3D bound a 3-D LUT's grid.
	MinSize   = picture.MinLUT3D
	MaxSize3D = picture.MaxLUT3D
	// MaxSize1D bounds a 1-D LUT; S-2014-006, LUT1D, asks readers for no more.
	MaxSize1D = picture.MaxSamples
	// MaxOps bounds the process nodes of one Common LUT Format file.
	MaxOps = picture.MaxOps
	// MaxCorrections bounds the corrections of one Color Decision List.
	MaxCorrections = 4096

	maxXMLDepth    = 32
	maxXMLElements = 1 << 16
	maxXMLAttrs    = 64
)

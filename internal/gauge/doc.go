// Package gauge measures clips and finished files in the trade's units. It is
// pure arithmetic on frames: it reads no files and runs nothing.
package gauge

//go:build !amd64 || purego

package lamps

// No wide forms for this processor, or none wanted.

var wideRows = false

// addTo adds a picture's samples to others.
func addTo(sum, pix []float32) { addEach(sum, pix) }

func exchangeRows(low, high []float32) bool { return false }

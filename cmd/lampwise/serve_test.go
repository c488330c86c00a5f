package main

import (
	"net"
	"testing"
)

// A page finds what the browser kept for it only at the same address.
func TestTheSameFolderHasTheSamePort(t *testing.T) {
	port := func(folders ...string) (int, net.Listener) {
		l, err := listenFor(folders, 0)
		if err != nil {
			t.Fatal(err)
		}
		return l.Addr().(*net.TCPAddr).Port, l
	}
	folder := t.TempDir()
	first, l := port(folder)
	taken, other := port(folder)
	if taken == first {
		t.Errorf("two listen on port %d", first)
	}
	other.Close()
	l.Close()
	again, l := port(folder)
	l.Close()
	if again != first {
		t.Errorf("port %d, then %d", first, again)
	}
	if two, l := port(folder, "luts"); two == first {
		t.Errorf("other folders have the same port %d", two)
	} else {
		l.Close()
	}
}

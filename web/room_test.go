package web_test

import (
	"context"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"lampwise/internal/server"
	"lampwise/internal/store"
	"lampwise/web"
)

// TestRoomPage goes through the Room page in a real browser (test/room.mjs), as
// TestBrowser does through the others.
func TestRoomPage(t *testing.T) {
	browse(t, "test/room.mjs", t.TempDir())
}

// browse runs a script against a server that has a folder open and knows no set.
func browse(t *testing.T, script, folder string) {
	ctx := inBrowser(t, 8*time.Minute)
	s := storeIn(ctx, t, t.TempDir())
	browseStore(ctx, t, script, folder, server.Options{Folders: []string{folder}, Store: s})
}

// inBrowser is the context of a test that goes through the page in a browser; it
// runs when asked: make web-test, which make test does too.
func inBrowser(t *testing.T, most time.Duration) context.Context {
	t.Helper()
	if os.Getenv("LAMPWISE_BROWSER") == "" {
		t.Skip("LAMPWISE_BROWSER is not set: make web-test runs this in a browser")
	}
	ctx, cancel := context.WithTimeout(context.Background(), most)
	t.Cleanup(cancel)
	return ctx
}

// storeIn opens a store until the test ends.
func storeIn(ctx context.Context, t *testing.T, folder string) *store.Store {
	t.Helper()
	s, err := store.Open(ctx, folder)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// browseStore runs a script against a server; the script is given the address,
// a folder, where screenshots go, and the phones' address.
func browseStore(ctx context.Context, t *testing.T, script, folder string, o server.Options) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	o.Assets, o.Host = web.Assets(), l.Addr().String()
	page, err := server.New(o)
	if err != nil {
		t.Fatal(err)
	}
	defer page.Close()
	go func() { _ = page.Serve(l) }()
	defer l.Close()
	// The phones' address; here on loopback, too, since a browser is to reach it.
	phones, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go func() { _ = page.ServeLAN([]net.Listener{phones}) }()
	defer phones.Close()
	shots, err := filepath.Abs("shots")
	if err != nil {
		t.Fatal(err)
	}
	text, err := exec.CommandContext(ctx, "node", script, page.URL(), folder, shots, "http://"+phones.Addr().String()+"/").CombinedOutput()
	t.Logf("%s", text)
	if err != nil {
		t.Errorf("browser: %v", err)
	}
}

// TestFromNothing goes from an empty folder to a verified render, with the
// keyboard alone (test/nothing.mjs).
func TestFromNothing(t *testing.T) {
	browse(t, "test/nothing.mjs", t.TempDir())
}

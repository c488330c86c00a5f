package server

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestDocumentsRunNothing: pages to print come with a policy that lets them run
// nothing and ask for nothing, and from opened folders alone.
func TestDocumentsRunNothing(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "open")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	s := newTestServer(t, folder)
	if err := os.WriteFile(filepath.Join(folder, "report.html"), []byte("<script>alert(1)</script>"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(filepath.Dir(folder), "other.html"), []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
	got := ask(s, "GET", "/api/document?file=0/report.html", "", nil)
	if got.StatusCode != http.StatusOK {
		t.Fatalf("answered %d", got.StatusCode)
	}
	policy := got.Header.Get("Content-Security-Policy")
	for _, want := range []string{"sandbox", "default-src 'none'"} {
		if !strings.Contains(policy, want) {
			t.Errorf("policy %q lacks %q", policy, want)
		}
	}
	if strings.Contains(policy, "script") || strings.Contains(policy, "allow-scripts") {
		t.Errorf("policy %q lets scripts run", policy)
	}
	for _, file := range []string{"0/../other.html", "0/lesson.toml", "0/none.html", "1/report.html", ""} {
		if got := ask(s, "GET", "/api/document?file="+file, "", nil); got.StatusCode < 400 {
			t.Errorf("%q was answered", file)
		}
	}
}

package server

import (
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"
)

const lanHost = "192.168.7.3:4100"

// phone asks as a phone would, with what cookies it has.
type phone struct {
	t       *testing.T
	h       http.Handler
	cookies []*http.Cookie
}

func (p *phone) ask(method, path, body string, change func(*http.Request)) *http.Response {
	p.t.Helper()
	r := httptest.NewRequest(method, "http://"+lanHost+path, strings.NewReader(body))
	for _, c := range p.cookies {
		r.AddCookie(c)
	}
	if change != nil {
		change(r)
	}
	w := httptest.NewRecorder()
	p.h.ServeHTTP(w, r)
	got := w.Result()
	p.cookies = append(p.cookies, got.Cookies()...)
	return got
}

func newPhone(t *testing.T) (*Server, *phone) {
	s := newTestServer(t, t.TempDir())
	return s, &phone{t: t, h: s.LAN([]string{lanHost})}
}

func codeOf(t *testing.T, s *Server) string {
	t.Helper()
	st, err := s.newCode(t.Context(), Nothing{})
	if err != nil {
		t.Fatal(err)
	}
	if len(st.Code) != codeDigits {
		t.Fatalf("code %q", st.Code)
	}
	return st.Code
}

// TestPhonesReachThreeThings asks for everything the server has as a phone that
// isn't paired and as one that is.
func TestPhonesReachThreeThings(t *testing.T) {
	s, p := newPhone(t)
	open := []string{"/api/phone/start", "/api/phone/pair"}
	forPaired := []string{"/api/set", "/api/check", "/api/call"}
	var paths []string
	for _, e := range s.endpoints() {
		paths = append(paths, "/api/"+e.name)
	}
	paths = append(paths, "/api/frame", "/api/cube", "/api/pictures", "/api/finished", "/api/setcard", "/api/document", "/api/share", "/api/program", "/api/scope", "/api/nothing")
	refused := func(path string, want ...string) {
		t.Helper()
		for _, method := range []string{"POST", "GET"} {
			r := p.ask(method, path, "{}", nil)
			if r.StatusCode != http.StatusForbidden && r.StatusCode != http.StatusNotFound && r.StatusCode != http.StatusMethodNotAllowed {
				t.Errorf("%s %s: answered %d", method, path, r.StatusCode)
			} else if r.StatusCode != http.StatusMethodNotAllowed {
				if code := errorCode(t, r); !slices.Contains(want, code) {
					t.Errorf("%s %s: %s", method, path, code)
				}
			}
		}
	}
	for _, path := range append(slices.Clone(paths), "/api/events", "/api/call.wav") {
		if !slices.Contains(open, path) {
			refused(path, "not-paired")
		}
	}
	for _, path := range []string{"/stamp.txt", "/x", "/../server.go"} {
		if r := p.ask("GET", path, "", nil); r.StatusCode < 400 && r.StatusCode != http.StatusTemporaryRedirect && r.StatusCode != http.StatusMovedPermanently {
			t.Errorf("%s: answered %d", path, r.StatusCode)
		}
	}
	if r := p.ask("POST", "/api/phone/pair", `{"code": "`+codeOf(t, s)+`"}`, nil); r.StatusCode != http.StatusOK {
		t.Fatalf("pairing: %d", r.StatusCode)
	}
	c := p.cookies[len(p.cookies)-1]
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || len(c.Value) != 64 {
		t.Errorf("cookie %+v", c)
	}
	for _, path := range paths {
		switch {
		case slices.Contains(open, path):
		case slices.Contains(forPaired, path):
			if r := p.ask("POST", path, `{"set": "none"}`, nil); errorCode(t, r) == "not-for-phones" {
				t.Errorf("%s can't be reached", path)
			}
		default:
			refused(path, "not-for-phones")
		}
	}
	// The token of this machine's page is no phone's, and the other way round.
	q := &phone{t: t, h: p.h, cookies: []*http.Cookie{{Name: c.Name, Value: s.token}, {Name: s.cookie, Value: s.token}}}
	if r := q.ask("POST", "/api/set", `{"set": "x"}`, nil); errorCode(t, r) != "not-paired" {
		t.Error("the page's token opens the phones' address")
	}
	if r := ask(s, "POST", "/api/start", "{}", func(r *http.Request) { r.Header.Del("Cookie"); r.AddCookie(c) }); errorCode(t, r) != "token" {
		t.Error("a phone's token opens the page")
	}
	// Forgotten, it is a stranger again.
	if _, err := s.forgetPhone(t.Context(), PhoneAsked{ID: s.phones.state().Phones[0].ID}); err != nil {
		t.Fatal(err)
	}
	if r := p.ask("POST", "/api/set", `{"set": "x"}`, nil); errorCode(t, r) != "not-paired" {
		t.Error("a forgotten phone still gets in")
	}
}

func TestCodesCantBeGuessed(t *testing.T) {
	s, p := newPhone(t)
	now := time.Now()
	s.phones.now = func() time.Time { return now }
	pair := func(code string) string {
		r := p.ask("POST", "/api/phone/pair", `{"code": "`+code+`"}`, nil)
		if r.StatusCode == http.StatusOK {
			return "in"
		}
		return errorCode(t, r)
	}
	if got := pair("000000"); got != "no-code" {
		t.Errorf("without a code shown: %s", got)
	}
	pause := firstPause
	for round := range 8 {
		right := codeOf(t, s)
		wrong := fmt.Sprintf("%06d", (1+atoi(right))%1_000_000)
		for range codeTries {
			if got := pair(wrong); got != "wrong-code" {
				t.Fatalf("round %d: %s", round, got)
			}
		}
		if got := pair(right); got != "pairing-paused" {
			t.Errorf("round %d: the right code after %d wrong ones: %s", round, codeTries, got)
		}
		if _, err := s.newCode(t.Context(), Nothing{}); err == nil {
			t.Errorf("round %d: a new code during the pause", round)
		}
		now = now.Add(pause - time.Second)
		if got := pair(right); got != "pairing-paused" {
			t.Errorf("round %d: the pause ended early: %s", round, got)
		}
		now = now.Add(2 * time.Second)
		if got := pair(right); got != "no-code" {
			t.Errorf("round %d: the old code after the pause: %s", round, got)
		}
		pause = min(2*pause, longestWait)
	}
	code := codeOf(t, s)
	now = now.Add(codeLasts)
	if got := pair(code); got != "no-code" {
		t.Errorf("an old code: %s", got)
	}
	code = codeOf(t, s)
	if got := pair(code); got != "in" {
		t.Errorf("the right one: %s", got)
	}
	if got := pair(code); got != "no-code" {
		t.Errorf("the same code again: %s", got)
	}
}

func atoi(s string) (n int) {
	for _, c := range s {
		n = 10*n + int(c-'0')
	}
	return n
}

func TestPhonesAddressAlone(t *testing.T) {
	_, p := newPhone(t)
	for name, change := range map[string]func(*http.Request){
		"another host":    func(r *http.Request) { r.Host = "evil.example:4100" },
		"loopback's name": func(r *http.Request) { r.Host = testHost },
		"another origin":  func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") },
		"another site":    func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
		"a large body": func(r *http.Request) {
			r.Body = io.NopCloser(strings.NewReader(`{"code":"` + strings.Repeat("1", 1<<20) + `"}`))
		},
	} {
		if r := p.ask("POST", "/api/phone/pair", `{"code": "123456"}`, change); r.StatusCode < 400 || r.StatusCode == http.StatusInternalServerError {
			t.Errorf("%s: answered %d", name, r.StatusCode)
		}
	}
}

// TestFromAnotherNetworkNamespace lets a process that has a network of its own
// do as a phone would, over a pair of virtual interfaces.
func TestFromAnotherNetworkNamespace(t *testing.T) {
	const space, here, there, inner = "lampwise-phone", "10.231.77.1", "10.231.77.2", "LAMPWISE_PHONE_OF"
	if of := os.Getenv(inner); of != "" {
		fromPhone(t, of, os.Getenv("LAMPWISE_CODE"), os.Getenv("LAMPWISE_LOOPBACK"))
		return
	}
	run := func(args ...string) error {
		out, err := exec.Command("ip", args...).CombinedOutput()
		if err != nil {
			return fmt.Errorf("ip %s: %w: %s", strings.Join(args, " "), err, out)
		}
		return nil
	}
	if err := run("netns", "add", space); err != nil {
		t.Skip("no network namespace can be made here: ", err)
	}
	t.Cleanup(func() { _ = run("netns", "del", space); _ = run("link", "del", "lwphone0") })
	for _, args := range [][]string{
		{"link", "add", "lwphone0", "type", "veth", "peer", "name", "lwphone1"},
		{"link", "set", "lwphone1", "netns", space},
		{"addr", "add", here + "/24", "dev", "lwphone0"},
		{"link", "set", "lwphone0", "up"},
		{"netns", "exec", space, "ip", "addr", "add", there + "/24", "dev", "lwphone1"},
		{"netns", "exec", space, "ip", "link", "set", "lwphone1", "up"},
	} {
		if err := run(args...); err != nil {
			t.Skip("no pair of interfaces can be made here: ", err)
		}
	}
	s := newTestServer(t, t.TempDir())
	loopback, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer loopback.Close()
	go func() { _ = s.Serve(loopback) }()
	l, err := net.Listen("tcp", here+":0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	go func() { _ = s.ServeLAN([]net.Listener{l}) }()
	for range 100 { // until the phones' address is known
		if s.phones.state().LAN {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	cmd := exec.Command("ip", "netns", "exec", space, os.Args[0], "-test.run", "^TestFromAnotherNetworkNamespace$", "-test.v")
	_, port, _ := net.SplitHostPort(loopback.Addr().String())
	cmd.Env = append(os.Environ(), inner+"=http://"+l.Addr().String(), "LAMPWISE_CODE="+codeOf(t, s), "LAMPWISE_LOOPBACK=http://"+here+":"+port)
	out, err := cmd.CombinedOutput()
	if err != nil || !strings.Contains(string(out), "as a phone: all as it should be") {
		t.Errorf("%v\n%s", err, out)
	}
	if n := len(s.phones.state().Phones); n != 1 {
		t.Errorf("%d phones are paired", n)
	}
}

// fromPhone is what the other namespace does.
func fromPhone(t *testing.T, base, code, loopback string) {
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	c := &http.Client{Jar: jar, Timeout: 5 * time.Second}
	post := func(path, body string) (int, string) {
		r, err := c.Post(base+path, "application/json", strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		b, _ := io.ReadAll(r.Body)
		return r.StatusCode, string(b)
	}
	if r, err := c.Get(base + "/"); err != nil || r.StatusCode != http.StatusOK {
		t.Fatalf("the page: %v, %v", r, err)
	}
	if _, err := c.Get(loopback); err == nil {
		t.Error("this machine's own page is reached from outside")
	}
	if n, _ := post("/api/set", `{"set": "x"}`); n != http.StatusForbidden {
		t.Errorf("not paired: %d", n)
	}
	if n, text := post("/api/phone/pair", `{"code": "`+code+`"}`); n != http.StatusOK {
		t.Fatalf("pairing: %d %s", n, text)
	}
	var started PhoneStarted
	if n, text := post("/api/phone/start", "{}"); n != http.StatusOK || json.Unmarshal([]byte(text), &started) != nil || !started.Paired {
		t.Errorf("start: %d %s", n, text)
	}
	if n, text := post("/api/set", `{"set": "x"}`); !strings.Contains(text, "set-unknown") {
		t.Errorf("a set: %d %s", n, text)
	}
	for _, path := range []string{"/api/start", "/api/grade/open", "/api/render", "/api/room/look", "/api/phones/code"} {
		if n, text := post(path, "{}"); n != http.StatusNotFound || !strings.Contains(text, "not-for-phones") {
			t.Errorf("%s: %d %s", path, n, text)
		}
	}
	if !t.Failed() {
		t.Log("as a phone: all as it should be")
	}
}

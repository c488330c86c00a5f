package server

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"lampwise/internal/job"
	"lampwise/internal/store"
)

const testHost = "127.0.0.1:4100"

func newTestServer(t *testing.T, folder string) *Server {
	t.Helper()
	st, err := store.Open(context.Background(), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	s, err := New(Options{Folders: []string{folder}, Store: st, Assets: fstest.MapFS{"index.html": {Data: []byte("<p>page</p>")}}, Host: testHost})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}

// ask sends a call as the page would; change makes it something else.
func ask(s *Server, method, path, body string, change func(r *http.Request)) *http.Response {
	r := httptest.NewRequest(method, "http://"+testHost+path, strings.NewReader(body))
	r.AddCookie(&http.Cookie{Name: s.cookie, Value: s.token})
	if change != nil {
		change(r)
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w.Result()
}

func errorCode(t *testing.T, r *http.Response) string {
	t.Helper()
	var body struct {
		Error errorBody `json:"error"`
	}
	if err := json.NewDecoder(r.Body).Decode(&body); err != nil {
		t.Fatal(err)
	}
	return body.Error.Code
}

func TestStrangersAreRefused(t *testing.T) {
	s := newTestServer(t, t.TempDir())
	if r := ask(s, "POST", "/api/start", "{}", nil); r.StatusCode != 200 {
		t.Fatalf("the page itself is answered %d", r.StatusCode)
	}
	for name, c := range map[string]struct {
		change func(r *http.Request)
		status int
	}{
		"another host":        {func(r *http.Request) { r.Host = "rebound.example:4100" }, http.StatusMisdirectedRequest},
		"another port":        {func(r *http.Request) { r.Host = "127.0.0.1:80" }, http.StatusMisdirectedRequest},
		"another origin":      {func(r *http.Request) { r.Header.Set("Origin", "http://elsewhere.example") }, http.StatusForbidden},
		"no origin at all":    {func(r *http.Request) { r.Header.Set("Origin", "null") }, http.StatusForbidden},
		"a cross-site fetch":  {func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, http.StatusForbidden},
		"no token":            {func(r *http.Request) { r.Header.Del("Cookie") }, http.StatusForbidden},
		"another start's one": {func(r *http.Request) { r.Header.Set("Cookie", s.cookie+"="+strings.Repeat("0", 32)) }, http.StatusForbidden},
		"a body without end": {func(r *http.Request) {
			r.Body = io.NopCloser(strings.NewReader(`{"x":"` + strings.Repeat("a", maxBody+1) + `"}`))
		}, http.StatusRequestEntityTooLarge},
		"an unknown field": {func(r *http.Request) { r.Body = io.NopCloser(strings.NewReader(`{"x":1}`)) }, http.StatusUnprocessableEntity},
		"something behind": {func(r *http.Request) { r.Body = io.NopCloser(strings.NewReader(`{} {}`)) }, http.StatusUnprocessableEntity},
	} {
		if r := ask(s, "POST", "/api/start", "{}", c.change); r.StatusCode != c.status {
			t.Errorf("%s: answered %d, want %d", name, r.StatusCode, c.status)
		}
	}
	for _, path := range []string{"/api/events", "/api/frame", "/api/cube", "/api/pictures"} {
		if r := ask(s, "GET", path, "", func(r *http.Request) { r.Header.Del("Cookie") }); r.StatusCode != http.StatusForbidden {
			t.Errorf("%s without a token: answered %d", path, r.StatusCode)
		}
	}
}

func TestAddressSetsTheCookieAndHidesTheToken(t *testing.T) {
	s := newTestServer(t, t.TempDir())
	path := strings.TrimPrefix(s.URL(), "http://"+testHost)
	r := ask(s, "GET", path, "", func(r *http.Request) { r.Header.Del("Cookie") })
	if r.StatusCode != http.StatusSeeOther || r.Header.Get("Location") != "/" {
		t.Fatalf("answered %d to %q", r.StatusCode, r.Header.Get("Location"))
	}
	c := r.Cookies()
	if len(c) != 1 || c[0].Value != s.token || !c[0].HttpOnly || c[0].SameSite != http.SameSiteStrictMode {
		t.Errorf("cookie %+v", c)
	}
	if r := ask(s, "GET", "/?start=00", "", nil); r.StatusCode != http.StatusForbidden {
		t.Errorf("a wrong token is answered %d", r.StatusCode)
	}
	r = ask(s, "GET", "/", "", nil)
	if p := r.Header.Get("Content-Security-Policy"); r.StatusCode != 200 || !strings.Contains(p, "default-src 'none'") || !strings.Contains(p, "frame-ancestors 'none'") || strings.Contains(p, "unsafe-eval") {
		t.Errorf("%d, policy %q", r.StatusCode, p)
	}
}

func TestNothingOutsideTheFolders(t *testing.T) {
	base := t.TempDir()
	folder := filepath.Join(base, "open")
	for _, d := range []string{folder, filepath.Join(base, "open-too")} {
		if err := os.Mkdir(d, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	secret := filepath.Join(base, "secret.toml")
	if err := os.WriteFile(secret, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(secret, filepath.Join(folder, "link.toml")); err != nil {
		t.Skip("no symbolic links here: ", err)
	}
	if err := os.Symlink(base, filepath.Join(folder, "up")); err != nil {
		t.Fatal(err)
	}
	s := newTestServer(t, folder)
	for _, id := range []string{"0/../secret.toml", "0//etc/passwd", "/etc/passwd", "1/x.toml", "-1/x.toml", "0/link.toml", "0/up/secret.toml", "0/up/open-too/x.toml", "x", "", "0/a/../../secret.toml"} {
		body, _ := json.Marshal(FileAsked{id})
		r := ask(s, "POST", "/api/grade/open", string(body), nil)
		if code := errorCode(t, r); code != "outside" {
			t.Errorf("%q: answered %d %s", id, r.StatusCode, code)
		}
	}
	if got, err := s.path("0/new.toml"); err != nil || got != filepath.Join(s.folders[0], "new.toml") {
		t.Errorf("a new file inside: %s, %v", got, err)
	}
}

func TestGradeIsWrittenAndKeepsComments(t *testing.T) {
	folder := t.TempDir()
	s := newTestServer(t, folder)
	r := ask(s, "POST", "/api/grade/new", `{"id":"0/a.toml","clip":"","curve":"log-420"}`, nil)
	var opened OpenedGrade
	if err := json.NewDecoder(r.Body).Decode(&opened); err != nil || r.StatusCode != 200 {
		t.Fatal(r.StatusCode, err)
	}
	file := filepath.Join(folder, "a.toml")
	text, _ := os.ReadFile(file)
	noted := strings.Replace(string(text), "[exposure]", "# mine\n[exposure]", 1)
	if err := os.WriteFile(file, []byte(noted), 0o644); err != nil {
		t.Fatal(err)
	}
	changed := strings.Replace(string(opened.Grade), `"exposure":{"off":false,"stops":0}`, `"exposure":{"off":false,"stops":1.5}`, 1)
	if changed == string(opened.Grade) {
		t.Fatalf("no exposure in %s", opened.Grade)
	}
	body, _ := json.Marshal(GradeKept{ID: "0/a.toml", Grade: json.RawMessage(changed)})
	if r := ask(s, "POST", "/api/grade/save", string(body), nil); r.StatusCode != 200 {
		t.Fatalf("save: %d %s", r.StatusCode, errorCode(t, r))
	}
	g, err := job.LoadGrade(file)
	if err != nil || g.Exposure.Stops != 1.5 {
		t.Fatal(g, err)
	}
	if text, _ := os.ReadFile(file); !strings.Contains(string(text), "# mine") {
		t.Error("the comment is lost")
	}
	wild := strings.Replace(string(opened.Grade), `"stops":0`, `"stops":99`, 1)
	body, _ = json.Marshal(GradeKept{ID: "0/a.toml", Grade: json.RawMessage(wild)})
	if r := ask(s, "POST", "/api/grade/save", string(body), nil); r.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("a wild number is answered %d", r.StatusCode)
	}
	body, _ = json.Marshal(GradeKept{ID: "0/a.toml", Grade: json.RawMessage(changed), New: true})
	if r := ask(s, "POST", "/api/grade/save", string(body), nil); r.StatusCode != http.StatusConflict {
		t.Errorf("a file in the way is answered %d", r.StatusCode)
	}
}

func TestAGradeChangedElsewhereIsNotWrittenOver(t *testing.T) {
	folder := t.TempDir()
	s := newTestServer(t, folder)
	r := ask(s, "POST", "/api/grade/new", `{"id":"0/a.toml","clip":"","curve":"log-420"}`, nil)
	var opened OpenedGrade
	if err := json.NewDecoder(r.Body).Decode(&opened); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(folder, "a.toml")
	save := func(was string) string {
		mine := strings.Replace(string(opened.Grade), `"exposure":{"off":false,"stops":0}`, `"exposure":{"off":false,"stops":1.5}`, 1)
		body, _ := json.Marshal(GradeKept{ID: "0/a.toml", Grade: json.RawMessage(mine), Was: json.RawMessage(was)})
		if r := ask(s, "POST", "/api/grade/save", string(body), nil); r.StatusCode != 200 {
			return errorCode(t, r)
		}
		return ""
	}
	// Comments are no settings: they may come meanwhile.
	text, _ := os.ReadFile(file)
	if err := os.WriteFile(file, append([]byte("# a note\n"), text...), 0o644); err != nil {
		t.Fatal(err)
	}
	if code := save(string(opened.Grade)); code != "" {
		t.Errorf("a grade that nobody changed is refused: %s", code)
	}
	if err := os.WriteFile(file, []byte(strings.Replace(string(text), "amount = 1.1", "amount = 0.7", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	if code := save(string(opened.Grade)); code != "grade-changed" {
		t.Errorf("a grade changed elsewhere: %q", code)
	}
	if g, err := job.LoadGrade(file); err != nil || g.Saturation.Amount != 0.7 {
		t.Errorf("it was written over: %v, %v", g, err)
	}
	if code := save("null"); code != "" {
		t.Errorf("written over on purpose: %s", code)
	}
}

func TestAFileThatIsGoneIsSaid(t *testing.T) {
	s := newTestServer(t, t.TempDir())
	for path, body := range map[string]string{
		"probe": `{"id":"0/a.mov"}`, "grade/open": `{"id":"0/a.toml"}`, "measure": `{"clip":"0/a.mov"}`,
		"render": `{"clip":"0/a.mov","grade":"0/a.toml","out":"0/b.mov"}`, "learn": `{"clip":"0/a.mov"}`, "check": `{"file":"0/a.mov"}`,
	} {
		if code := errorCode(t, ask(s, "POST", "/api/"+path, body, nil)); code != "gone" {
			t.Errorf("%s: %s", path, code)
		}
	}
	if code := errorCode(t, ask(s, "GET", "/api/frame?clip=0/a.mov&frame=0&width=64", "", nil)); code != "gone" {
		t.Errorf("frame: %s", code)
	}
}

// What is written need not stand there yet.
func TestWhatIsMadeNeedNotBeThere(t *testing.T) {
	folder := t.TempDir()
	s := newTestServer(t, folder)
	for _, name := range []string{"a.mov", "a.toml"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte("x"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for path, body := range map[string]string{
		"render":           `{"clip":"0/a.mov","grade":"0/a.toml","out":"0/b.mov"}`,
		"episodes/handoff": `{"set":"","grade":"0/a.toml","clip":"","folder":"0/handoff"}`,
		"demo":             `{"folder":"0/example","size":90}`,
	} {
		r := ask(s, "POST", "/api/"+path, body, nil)
		var one Job
		if err := json.NewDecoder(r.Body).Decode(&one); err != nil || r.StatusCode != 200 || one.State != "running" {
			t.Errorf("%s: answered %d, %+v, %v", path, r.StatusCode, one, err)
		}
		s.jobs.cancelJob(one.ID)
	}
}

func TestJobsAreToldAndCancelled(t *testing.T) {
	j := newJobs()
	defer j.close()
	told, _ := j.listen()
	begun := make(chan bool)
	one, err := j.start("render", "x", func(ctx context.Context, report job.Progress) (any, error) {
		report(job.Step{What: "render", Done: 1, Total: 2})
		close(begun)
		<-ctx.Done()
		return nil, ctx.Err()
	})
	if err != nil {
		t.Fatal(err)
	}
	<-begun
	j.cancelJob(one.ID)
	var states []string
	for got := range told {
		states = append(states, got.State)
		if got.State != "running" {
			break
		}
	}
	if last := states[len(states)-1]; last != "cancelled" {
		t.Errorf("states %v", states)
	}
	if _, err := j.start("verify", "y", func(context.Context, job.Progress) (any, error) { return nil, os.ErrNotExist }); err != nil {
		t.Fatal(err)
	}
	for got := range told {
		if got.State == "failed" && got.Error != nil {
			break
		}
	}
}

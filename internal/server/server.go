// Package server is lampwise's page over HTTP: the same use cases as the
// commands, for one person on this machine.
//
// What holds here: it listens on loopback; a request for another Host, from
// another origin or without this start's token is refused; bodies and times are
// bounded; no path outside the folders opened is read or written; the page may
// load nothing from anywhere else.
package server

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"strconv"
	"strings"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/job"
)

// Options are what a server is started with.
type Options struct {
	Folders []string // opened; nothing outside is read or written
	Store   job.Episodes
	Assets  fs.FS  // the built page
	Host    string // host:port that is answered, e.g. 127.0.0.1:4100
	Version string
	// Work works off what waits of an episode, through the queue.
	Work func(ctx context.Context, e book.Episode, report job.Progress) error
}

// Server answers the page.
type Server struct {
	options Options
	folders []string // real paths
	token   string
	begun   string // names this start to pages that were open before
	cookie  string
	live    *job.Live
	plans   *job.LivePlans
	jobs    *jobs
	phones  *phones
	handler http.Handler
	open    open
}

// maxBody bounds what is sent to the server: settings, never pictures.
const maxBody = 1 << 20

// New makes a server. Close it when it is done.
func New(o Options) (*Server, error) {
	s := &Server{options: o, live: job.NewLive(), plans: job.NewLivePlans(), jobs: newJobs(), phones: &phones{now: time.Now, byToken: map[string]*Phone{}}}
	s.open.begin()
	s.live.Ahead()
	var err error
	if s.folders, err = realFolders(o.Folders); err != nil {
		return nil, err
	}
	secret := make([]byte, 24)
	if _, err := rand.Read(secret); err != nil {
		return nil, fmt.Errorf("token: %w", err)
	}
	s.token, s.begun = hex.EncodeToString(secret[:16]), hex.EncodeToString(secret[16:])
	_, port, err := net.SplitHostPort(o.Host)
	if err != nil {
		return nil, fmt.Errorf("host %q: %w", o.Host, err)
	}
	s.cookie = "lampwise-" + port // a browser's cookies are not parted by port
	s.handler = s.routes()
	return s, nil
}

// URL is the address to open: it carries this start's token.
func (s *Server) URL() string { return "http://" + s.options.Host + "/?start=" + s.token }

// ServeHTTP implements http.Handler.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

func (s *Server) routes() http.Handler {
	api := http.NewServeMux()
	for _, e := range s.endpoints() {
		api.Handle("POST /api/"+e.name, e.handle)
	}
	api.HandleFunc("GET /api/events", s.events)
	api.HandleFunc("GET /api/frame", s.frame)
	api.HandleFunc("GET /api/hold", s.hold)
	api.HandleFunc("GET /api/cube", s.cube)
	api.HandleFunc("GET /api/call.wav", s.callSound)
	api.HandleFunc("GET /api/pictures", s.pictures)
	api.HandleFunc("GET /api/finished", s.finished)
	api.HandleFunc("GET /api/setcard", s.setCard)
	api.HandleFunc("GET /api/document", s.document)
	api.HandleFunc("POST /api/share", s.share)
	api.HandleFunc("POST /api/program", s.program)
	api.HandleFunc("POST /api/scope", s.scope)
	api.HandleFunc("/api/", func(w http.ResponseWriter, r *http.Request) {
		fail(w, http.StatusNotFound, fault.New(fault.Usage, "no-such-call", "Load the page again.", "%s %s is no call of this server", r.Method, r.URL.Path))
	})
	all := http.NewServeMux()
	all.Handle("/api/", s.known(http.MaxBytesHandler(api, maxBody)))
	all.HandleFunc("/", s.page)
	return s.guarded(http.NewCrossOriginProtection().Handler(all))
}

// contentPolicy lets the page load its own files and nothing else. Styles may
// stand at elements: places on rails and rows are numbers.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; img-src 'self' blob: data:; media-src blob:; connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"

// guarded refuses other hosts and sets the headers that every answer has.
func (s *Server) guarded(next http.Handler) http.Handler {
	_, port, _ := net.SplitHostPort(s.options.Host)
	return guard(map[string]bool{s.options.Host: true, "localhost:" + port: true}, next)
}

func guard(hosts map[string]bool, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", contentPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !hosts[r.Host] {
			fail(w, http.StatusMisdirectedRequest, fault.New(fault.Usage, "host", "Open the address that lampwise serve printed.", "%q is not this server's address", r.Host))
			return
		}
		if o := r.Header.Get("Origin"); o != "" && !hosts[strings.TrimPrefix(o, "http://")] {
			fail(w, http.StatusForbidden, fault.New(fault.Usage, "origin", "Open the address that lampwise serve printed.", "a page of %q may not ask this server", o))
			return
		}
		next.ServeHTTP(w, r)
	})
}

// known asks for this start's token.
func (s *Server) known(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		c, err := r.Cookie(s.cookie)
		if err != nil || !same(c.Value, s.token) {
			fail(w, http.StatusForbidden, fault.New(fault.Usage, "token", "Open the address that it printed last, in this browser: this page then goes on by itself. What you changed is kept.", "lampwise was started anew since this page was opened"))
			return
		}
		next.ServeHTTP(w, r)
	})
}

func same(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }

// page serves the built files. The address with the token sets the cookie and
// leads to the page without it.
func (s *Server) page(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		http.Error(w, "GET only", http.StatusMethodNotAllowed)
		return
	}
	if t := r.URL.Query().Get("start"); t != "" {
		if !same(t, s.token) {
			http.Error(w, "This address is of an earlier start. Open the one that lampwise serve printed last.", http.StatusForbidden)
			return
		}
		http.SetCookie(w, &http.Cookie{Name: s.cookie, Value: s.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	http.FileServerFS(s.options.Assets).ServeHTTP(w, r)
}

// errorBody is the error object of docs/json.md.
type errorBody struct {
	Code    string `json:"code"`
	Message string `json:"message"`
	Hint    string `json:"hint"`
}

func errorOf(err error) (errorBody, int) {
	if f, ok := fault.As(err); ok {
		status := http.StatusUnprocessableEntity
		if f.Class == fault.Storage {
			status = http.StatusConflict
		}
		return errorBody{f.Code, f.Message, f.Hint}, status
	}
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return errorBody{"too-large", "more was sent than settings can be", "Load the page again."}, http.StatusRequestEntityTooLarge
	}
	return errorBody{"defect", strings.ReplaceAll(err.Error(), "\n", " "), "This should not happen; please report it with what you did."}, http.StatusInternalServerError
}

func fail(w http.ResponseWriter, status int, err error) {
	body, usual := errorOf(err)
	if status == 0 {
		status = usual
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(struct {
		Error errorBody `json:"error"`
	}{body})
}

func answer(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(v)
}

// read decodes a request's body, strictly.
func read(r *http.Request, into any) error {
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return err
		}
		return fault.Wrap(err, fault.Usage, "request", "Load the page again.", "what was sent can't be read: %v", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return fault.New(fault.Usage, "request", "Load the page again.", "something follows what was sent")
	}
	return nil
}

func number(text, what string) (int, error) {
	n, err := strconv.Atoi(text)
	if err != nil {
		return 0, fault.New(fault.Usage, "request", "Load the page again.", "%q is no %s", text, what)
	}
	return n, nil
}

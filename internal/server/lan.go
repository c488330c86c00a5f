package server

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/hex"
	"fmt"
	"math/big"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

// lan.go lets paired phones reach the set check, the set card and the caller
// over the local network, and nothing else. It is another listener with a
// handler of its own: what isn't named in lanRoutes can't be asked for there.
//
// A phone is paired by a code that the page on this machine shows: six digits,
// good for one phone and a few minutes. After a few wrong ones the code is void
// and pairing pauses, twice as long each time. A paired phone holds a token in a
// cookie until it is forgotten or lampwise ends. The connection isn't encrypted:
// whoever listens in on the network can see the set's readings and take a
// phone's token, which opens these three things and no more.

const (
	codeDigits  = 6
	codeLasts   = 3 * time.Minute
	codeTries   = 5
	firstPause  = time.Minute
	longestWait = time.Hour
	mostPhones  = 8
	lanBody     = 16 << 10
)

// Phone is a paired phone.
type Phone struct {
	ID    string    `json:"id"`
	Name  string    `json:"name"` // what its browser says it is
	Since time.Time `json:"since"`
	Seen  time.Time `json:"seen"`
}

type phones struct {
	mu        sync.Mutex
	now       func() time.Time
	addresses []string
	code      string
	until     time.Time
	wrong     int
	pause     time.Duration
	paused    time.Time // until when no code is taken
	byToken   map[string]*Phone
	next      int
}

// PhonesState is what the page on this machine shows of phones.
type PhonesState struct {
	LAN       bool      `json:"lan"` // started with --lan
	Addresses []string  `json:"addresses"`
	Code      string    `json:"code"` // empty: none is good
	Until     time.Time `json:"until"`
	Paused    time.Time `json:"paused"` // no code is taken until then
	Phones    []Phone   `json:"phones"`
}

func (s *Server) phonesState(context.Context, Nothing) (*PhonesState, error) {
	return s.phones.state(), nil
}

func (p *phones) state() *PhonesState {
	p.mu.Lock()
	defer p.mu.Unlock()
	out := &PhonesState{LAN: len(p.addresses) > 0, Addresses: slices.Clone(p.addresses), Paused: p.paused, Phones: []Phone{}}
	if out.Addresses == nil {
		out.Addresses = []string{}
	}
	if p.code != "" && p.now().Before(p.until) {
		out.Code, out.Until = p.code, p.until
	}
	for _, d := range p.byToken {
		out.Phones = append(out.Phones, *d)
	}
	slices.SortFunc(out.Phones, func(a, b Phone) int { return a.Since.Compare(b.Since) })
	return out
}

// newCode makes a code for one phone.
func (s *Server) newCode(context.Context, Nothing) (*PhonesState, error) {
	p := s.phones
	n, err := rand.Int(rand.Reader, big.NewInt(1_000_000))
	if err != nil {
		return nil, fmt.Errorf("code: %w", err)
	}
	p.mu.Lock()
	switch {
	case len(p.addresses) == 0:
		err = fault.New(fault.Usage, "no-lan", "Start it with lampwise serve --lan.", "this server can't be reached by phones")
	case p.now().Before(p.paused):
		err = fault.New(fault.Usage, "pairing-paused", "Were those tries yours? If not, someone on this network is guessing.", "too many wrong codes: pairing pauses until %s", p.paused.Local().Format("15:04:05"))
	case len(p.byToken) >= mostPhones:
		err = fault.New(fault.Usage, "many-phones", "Forget one that isn't used.", "%d phones are paired already", mostPhones)
	default:
		p.code, p.until, p.wrong = fmt.Sprintf("%0*d", codeDigits, n), p.now().Add(codeLasts), 0
	}
	p.mu.Unlock()
	if err != nil {
		return nil, err
	}
	return p.state(), nil
}

// PhoneAsked names a phone.
type PhoneAsked struct {
	ID string `json:"id"`
}

func (s *Server) forgetPhone(_ context.Context, a PhoneAsked) (*PhonesState, error) {
	p := s.phones
	p.mu.Lock()
	for token, d := range p.byToken {
		if d.ID == a.ID {
			delete(p.byToken, token)
		}
	}
	p.mu.Unlock()
	return p.state(), nil
}

// pair takes a code and gives a token.
func (p *phones) pair(code, name string) (token string, err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.now()
	if now.Before(p.paused) {
		return "", fault.New(fault.Usage, "pairing-paused", "Wait, and have a new code shown.", "too many wrong codes: pairing pauses")
	}
	if p.code == "" || !now.Before(p.until) {
		return "", fault.New(fault.Usage, "no-code", "Press “pair a phone” on the page of the computer; its code lasts three minutes.", "no code is good just now")
	}
	if subtle.ConstantTimeCompare([]byte(code), []byte(p.code)) != 1 {
		if p.wrong++; p.wrong >= codeTries {
			p.code = ""
			p.pause = min(max(firstPause, 2*p.pause), longestWait)
			p.paused = now.Add(p.pause)
		}
		return "", fault.New(fault.Usage, "wrong-code", "Look at the computer's page again.", "that is not the code")
	}
	secret := make([]byte, 32)
	if _, err := rand.Read(secret); err != nil {
		return "", fmt.Errorf("token: %w", err)
	}
	p.code, p.pause = "", 0
	p.next++
	token = hex.EncodeToString(secret)
	p.byToken[token] = &Phone{ID: fmt.Sprint(p.next), Name: name, Since: now, Seen: now}
	return token, nil
}

func (p *phones) known(token string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	d := p.byToken[token]
	if d != nil {
		d.Seen = p.now()
	}
	return d != nil
}

// PairAsked is a code typed into a phone.
type PairAsked struct {
	Code string `json:"code"`
}

// PhoneStarted is what a phone's page opens with.
type PhoneStarted struct {
	Phone  bool            `json:"phone"`  // this is the phones' address
	Paired bool            `json:"paired"` // if not, the rest is empty
	Sets   []job.ListedSet `json:"sets"`
	Files  []ListedFile    `json:"files"` // clips and stills, for the set check
}

// hereStarted answers phone/start on this machine's own address.
func (s *Server) hereStarted(context.Context, Nothing) (*PhoneStarted, error) {
	return &PhoneStarted{Sets: []job.ListedSet{}, Files: []ListedFile{}}, nil
}

// LAN is the handler for phones. hosts are the addresses with port that it is
// reached by.
func (s *Server) LAN(hosts []string) http.Handler {
	s.phones.mu.Lock()
	s.phones.addresses = nil
	allowed := map[string]bool{}
	for _, h := range hosts {
		allowed[h] = true
		s.phones.addresses = append(s.phones.addresses, "http://"+h+"/")
	}
	s.phones.mu.Unlock()
	cookie := "lampwise-phone"
	if len(hosts) > 0 {
		_, port, _ := net.SplitHostPort(hosts[0])
		cookie += "-" + port
	}
	paired := func(r *http.Request) bool {
		c, err := r.Cookie(cookie)
		return err == nil && s.phones.known(c.Value)
	}
	open := http.NewServeMux()
	open.HandleFunc("POST /api/phone/start", func(w http.ResponseWriter, r *http.Request) {
		out := &PhoneStarted{Phone: true, Paired: paired(r), Sets: []job.ListedSet{}, Files: []ListedFile{}}
		if out.Paired {
			sets, err := job.ListSets(r.Context(), s.options.Store)
			if err != nil {
				fail(w, 0, err)
				return
			}
			out.Sets = sets
			for _, f := range s.list() {
				if f.Kind == "clip" || f.Kind == "still" {
					out.Files = append(out.Files, f)
				}
			}
		}
		answer(w, out)
	})
	open.HandleFunc("POST /api/phone/pair", func(w http.ResponseWriter, r *http.Request) {
		var a PairAsked
		if err := read(r, &a); err != nil {
			fail(w, 0, err)
			return
		}
		token, err := s.phones.pair(strings.TrimSpace(a.Code), browserOf(r))
		if err != nil {
			fail(w, http.StatusForbidden, err)
			return
		}
		http.SetCookie(w, &http.Cookie{Name: cookie, Value: token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
		answer(w, Nothing{})
	})
	inner := http.NewServeMux()
	for _, e := range s.endpoints() {
		switch e.name {
		case "set", "check", "call":
			inner.Handle("POST /api/"+e.name, e.handle)
		}
	}
	inner.HandleFunc("GET /api/call.wav", s.callSound)
	inner.HandleFunc("GET /api/events", func(w http.ResponseWriter, r *http.Request) {
		s.tellJobs(w, r, func(j Job) bool { return j.Kind == "check" })
	})
	inner.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		fail(w, http.StatusNotFound, fault.New(fault.Usage, "not-for-phones", "Use the page on the computer.", "phones can't ask for that"))
	})
	open.HandleFunc("/api/", func(w http.ResponseWriter, r *http.Request) {
		if !paired(r) {
			fail(w, http.StatusForbidden, fault.New(fault.Usage, "not-paired", "Pair it again with a code of the computer's page.", "this phone is not paired"))
			return
		}
		inner.ServeHTTP(w, r)
	})
	files := http.FileServerFS(s.options.Assets)
	open.HandleFunc("GET /{$}", files.ServeHTTP)
	for _, name := range []string{"app.js", "app.css"} {
		open.HandleFunc("GET /"+name, files.ServeHTTP)
	}
	return guard(allowed, http.NewCrossOriginProtection().Handler(http.MaxBytesHandler(open, lanBody)))
}

// browserOf is a word for a phone, from what its browser says of itself.
func browserOf(r *http.Request) string {
	for _, known := range [][2]string{{"iPhone", "a phone"}, {"iPad", "a tablet"}, {"Android", "a phone or tablet"}, {"Windows", "a computer"}, {"Macintosh", "a computer"}, {"Linux", "a computer"}} {
		if strings.Contains(r.UserAgent(), known[0]) {
			return known[1]
		}
	}
	return "a device"
}

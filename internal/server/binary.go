package server

import (
	"encoding/binary"
	"encoding/json"
	"math"
	"net/http"
	"strconv"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

// Numbers in bulk go as they lie in memory, little endian. What they are said
// to be stands in a JSON header before them (packed), or in headers of HTTP.

// frame gives a clip's frame, small: see job.ProxyFrame.
func (s *Server) frame(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	n, err := number(q.Get("frame"), "frame")
	if err != nil {
		fail(w, 0, err)
		return
	}
	width, err := number(q.Get("width"), "width")
	if err != nil {
		fail(w, 0, err)
		return
	}
	path, err := s.there(q.Get("clip"))
	if err != nil {
		fail(w, 0, err)
		return
	}
	f, err := s.live.Frame(r.Context(), path, n, width, job.OverrideOf(q.Get("range"), q.Get("matrix")))
	if err != nil {
		fail(w, 0, err)
		return
	}
	blob(w, map[string]int{"Width": f.W, "Height": f.H}, f.Data)
}

// hold gives a hold of a switch clip as a small PNG: see job.Live.HoldStill.
func (s *Server) hold(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	at, err := strconv.ParseFloat(q.Get("at"), 64)
	if err != nil {
		fail(w, 0, fault.New(fault.Usage, "request", "Load the page again.", "%q is no time in s", q.Get("at")))
		return
	}
	path, err := s.there(q.Get("clip"))
	if err != nil {
		fail(w, 0, err)
		return
	}
	png, err := s.live.HoldStill(r.Context(), path, at, q.Get("curve"), holdWidth)
	if err != nil {
		fail(w, 0, err)
		return
	}
	w.Header().Set("Content-Type", "image/png")
	_, _ = w.Write(png)
}

// holdWidth is the width of a hold's picture: twice of what it is shown at, for
// screens of that density.
const holdWidth = 288

// callSound gives the beeps of a called order as a sound file.
func (s *Server) callSound(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	hold, err := strconv.ParseFloat(q.Get("hold"), 64)
	if err != nil {
		fail(w, 0, fault.New(fault.Usage, "request", "Load the page again.", "%q is no time in s", q.Get("hold")))
		return
	}
	_, wav, err := job.LiveCall(r.Context(), s.options.Store, "", q.Get("order"), hold)
	if err != nil {
		fail(w, 0, err)
		return
	}
	blob(w, nil, wav)
}

// cube gives the data of a 3-D LUT: single precision R, G, B.
func (s *Server) cube(w http.ResponseWriter, r *http.Request) {
	data, ok := s.live.Cube(r.URL.Query().Get("id"))
	if !ok {
		fail(w, http.StatusNotFound, fault.New(fault.Usage, "no-cube", "Load the page again.", "that LUT is not known any more"))
		return
	}
	blob(w, nil, data)
}

// pictures gives a set's lamp pictures: see job.LampPictures.
func (s *Server) pictures(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	width, err := number(q.Get("width"), "width")
	if err == nil && (width < 16 || width > 4096) {
		err = fault.New(fault.Usage, "request", "", "a picture %d wide can't be asked for", width)
	}
	if err != nil {
		fail(w, 0, err)
		return
	}
	p, err := s.live.Pictures(r.Context(), s.options.Store, q.Get("set"), width)
	if err != nil {
		fail(w, 0, err)
		return
	}
	blob(w, map[string]int{"Width": p.W, "Height": p.H, "Count": p.Count}, p.Data)
}

// ShareAsked is a mix of which is asked who lights what.
type ShareAsked struct {
	Set    string    `json:"set"`
	Levels []float64 `json:"levels"`
}

func (s *Server) share(w http.ResponseWriter, r *http.Request) {
	var a ShareAsked
	if err := read(r, &a); err != nil {
		fail(w, 0, err)
		return
	}
	p, err := s.live.ShareMap(r.Context(), s.options.Store, a.Set, a.Levels)
	if err != nil {
		fail(w, 0, err)
		return
	}
	blob(w, map[string]int{"Width": p.W, "Height": p.H, "Count": p.Count}, p.Data)
}

// program compiles what is shown: a header's length, the header, the texels.
func (s *Server) program(w http.ResponseWriter, r *http.Request) {
	var a Shown
	if err := read(r, &a); err != nil {
		fail(w, 0, err)
		return
	}
	ask, err := s.liveRequest(a)
	if err != nil {
		fail(w, 0, err)
		return
	}
	p, err := s.live.Program(r.Context(), ask)
	if err != nil {
		fail(w, 0, err)
		return
	}
	head, err := json.Marshal(p)
	if err != nil {
		fail(w, 0, err)
		return
	}
	for len(head)%4 != 0 {
		head = append(head, ' ')
	}
	data := binary.LittleEndian.AppendUint32(nil, uint32(len(head)))
	data = append(data, head...)
	for _, x := range p.Texels {
		data = binary.LittleEndian.AppendUint32(data, math.Float32bits(x))
	}
	blob(w, nil, data)
}

// ScopeAsked is a frame of which a scope is drawn.
type ScopeAsked struct {
	Shown
	Frame int    `json:"frame"`
	Width int    `json:"width"` // of the frame as shown
	Scope string `json:"scope"` // waveform, parade, vectorscope, histogram
}

// scope draws a scope as a PNG.
func (s *Server) scope(w http.ResponseWriter, r *http.Request) {
	var a ScopeAsked
	if err := read(r, &a); err != nil {
		fail(w, 0, err)
		return
	}
	live, err := s.liveRequest(a.Shown)
	if err != nil {
		fail(w, 0, err)
		return
	}
	png, err := s.live.Scope(r.Context(), live, a.Frame, a.Width, a.Scope)
	if err != nil {
		fail(w, 0, err)
		return
	}
	blob(w, nil, png)
}

func blob(w http.ResponseWriter, said map[string]int, data []byte) {
	h := w.Header()
	h.Set("Content-Type", "application/octet-stream")
	for k, v := range said {
		h.Set("Lampwise-"+k, strconv.Itoa(v))
	}
	h.Set("Content-Length", strconv.Itoa(len(data)))
	_, _ = w.Write(data)
}

package job

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/store"
)

// someExport is an exported set, made by hand.
func someExport(t testing.TB) []byte {
	pictures, err := packSeparation(someSeparation())
	if err != nil {
		t.Fatal(err)
	}
	head, err := json.Marshal(exportedSet{Kind: exportKind, Form: exportForm, Name: "garage", Settings: someSettings()})
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, e := range []struct {
		name string
		data []byte
	}{{exportSet, head}, {exportChecks, []byte("[]")}, {exportEpisodes, []byte(`[{"name": "monday", "settings": {"schema": 1, "out": "/out", "preset": "web-1080p", "stops": 0.1, "de00": 1.5}, "carried": "grades/1/g.toml"}]`)}, {exportPictures, pictures}} {
		w, err := z.Create(e.name)
		if err == nil {
			_, err = w.Write(e.data)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func FuzzImport(f *testing.F) {
	data := someExport(f)
	f.Add(data)
	f.Add(data[:len(data)-30])
	f.Add([]byte("not a zip"))
	f.Fuzz(func(t *testing.T, data []byte) {
		x, err := parseExport(data, "x")
		if err == nil {
			_, err = openedSet(x.set, x.pictures)
		}
		if err != nil {
			if _, ok := fault.As(err); !ok {
				t.Fatalf("not a fault: %v", err)
			}
		}
	})
}

// A set that was exported says the same elsewhere: settings, pictures, checks,
// episodes, and what its reference grades make of a colour, though the folders
// they were in are gone.
func TestExportedSetSaysTheSameElsewhere(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	here, err := store.Open(ctx, filepath.Join(dir, "here"))
	if err != nil {
		t.Fatal(err)
	}
	defer here.Close()
	pictures, err := packSeparation(someSeparation())
	if err != nil {
		t.Fatal(err)
	}
	day := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	if _, err := here.KeepSet(ctx, book.Set{Name: "garage", Learned: day, Changed: day, Settings: someSettings()}, pictures, false); err != nil {
		t.Fatal(err)
	}
	if err := here.KeepSetCheck(ctx, "garage", book.SetCheck{When: day, File: "a.mov", Verdict: "drift", Changes: map[string]float64{"key": 0.3}, Answer: []byte(`{}`)}); err != nil {
		t.Fatal(err)
	}
	// Two grades: one whose look lies beside it, one with a LUT from elsewhere.
	studio := filepath.Join(dir, "studio")
	cube := func(name, white string) string {
		path := filepath.Join(studio, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte("LUT_1D_SIZE 2\n0 0 0\n"+white+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	cube("grades/warm.cube", "1 0.9 0.8")
	far := cube("luts/cold.cube", "0.8 0.9 1")
	save := func(name, lut string) string {
		g := grade.Starting("log-420")
		g.Look.LUT, g.Look.Strength = lut, 0.45
		path := filepath.Join(studio, "grades", name)
		if err := g.Save(path); err != nil {
			t.Fatal(err)
		}
		return path
	}
	near, distant, lost := save("near.toml", "warm.cube"), save("far.toml", far), filepath.Join(studio, "lost.toml")
	matched := save("near-mon-001.toml", "warm.cube")
	for i, g := range []string{near, distant, near, lost} {
		e := book.Episode{Set: "garage", Name: []string{"mon", "tue", "wed", "thu"}[i], Made: day.AddDate(0, 0, i), Settings: book.EpisodeSettings{Schema: 1, Grade: g, Out: "/out", Preset: "web-1080p", Stops: 0.1, DE00: 1.5}}
		for n, state := range []book.ClipState{book.ClipDone, book.ClipAside, book.ClipWorking} {
			e.Clips = append(e.Clips, book.EpisodeClip{Number: n + 1, File: "/day/a.mov", Out: "/out/a.mp4", State: state, Reason: "of its own", Tries: n, Changed: day, Answer: []byte(`{"seconds":1.5}`), Accepted: n == 0})
			if i == 0 && n == 0 {
				e.Clips[0].Answer = []byte(`{"grade":` + strconv.Quote(matched) + `}`)
			}
		}
		if err := here.KeepEpisode(ctx, e); err != nil {
			t.Fatal(err)
		}
	}
	shows := func(file string) [3]float64 {
		g, err := grade.Load(file)
		if err != nil {
			t.Fatal(err)
		}
		p, err := grade.Build(g, grade.Clip{}, LUTsIn(filepath.Dir(file)))
		if err != nil {
			t.Fatal(err)
		}
		return p.Exact([3]float64{0.5, 0.4, 0.3})
	}
	want := map[string][3]float64{near: shows(near), distant: shows(distant)}
	if want[near] == want[distant] {
		t.Fatal("both grades show the same: nothing is tested")
	}

	file := filepath.Join(dir, "garage.lampset")
	x, err := ExportSet(ctx, here, "garage", file, false)
	if err != nil {
		t.Fatal(err)
	}
	if x.Episodes != 4 || x.Checks != 1 || len(x.Grades) != 3 || len(x.Notes) != 1 || !strings.Contains(x.Notes[0], "lost.toml") {
		t.Errorf("exported %+v", x)
	}
	// Where the grades stand as they stood, they are used from there.
	again, err := ImportSet(ctx, here, file, "again", filepath.Join(dir, "taken-out"), false)
	if err != nil {
		t.Fatal(err)
	}
	// far.toml's text was changed to name its LUT beside it, so that one isn't.
	if len(again.Grades) != 3 || again.Grades[0] != near || again.Grades[1] != matched || !strings.HasPrefix(again.Grades[2], filepath.Join(dir, "taken-out")) {
		t.Errorf("grades used: %v", again.Grades)
	}
	if err := os.RemoveAll(studio); err != nil {
		t.Fatal(err)
	}
	there, err := store.Open(ctx, filepath.Join(dir, "there"))
	if err != nil {
		t.Fatal(err)
	}
	defer there.Close()
	kept := filepath.Join(dir, "there", "grades")
	for range 2 { // the second time over the first
		if _, err := ImportSet(ctx, there, file, "", kept, true); err != nil {
			t.Fatal(err)
		}
	}
	// What lay in one folder lies in one again, however often it is taken out.
	if folders, _ := os.ReadDir(kept); len(folders) != 1 {
		t.Errorf("%d folders of grades after two imports, want 1", len(folders))
	}
	a, _ := here.Set(ctx, "garage")
	b, err := there.Set(ctx, "garage")
	if err != nil || !reflect.DeepEqual(a, b) {
		t.Errorf("set %+v, was %+v (%v)", b, a, err)
	}
	ca, _ := here.SetChecks(ctx, "garage", 10)
	cb, err := there.SetChecks(ctx, "garage", 10)
	if err != nil || !reflect.DeepEqual(ca, cb) {
		t.Errorf("checks %+v, were %+v (%v)", cb, ca, err)
	}
	ea, _ := here.Episodes(ctx, "garage")
	eb, err := there.Episodes(ctx, "garage")
	if err != nil || len(eb) != len(ea) {
		t.Fatalf("%d episodes, were %d (%v)", len(eb), len(ea), err)
	}
	for i := range ea {
		was := ea[i].Settings.Grade
		if w, ok := want[was]; ok && shows(eb[i].Settings.Grade) != w {
			t.Errorf("episode %s: its grade shows %v, showed %v", ea[i].Name, shows(eb[i].Settings.Grade), w)
		}
		if i == 0 { // the grade matched to a clip has come along
			found, err := answerIn(eb[0].Clips[0])
			if err != nil || found.Grade == matched || shows(found.Grade) != want[near] {
				t.Errorf("the matched grade: %+v, %v", found, err)
			}
			eb[0].Clips[0].Answer = ea[0].Clips[0].Answer
		}
		eb[i].Settings.Grade = was
		ea[i].Clips[2].State = book.ClipWaiting // nobody works on it there
		if !reflect.DeepEqual(ea[i], eb[i]) {
			t.Errorf("episode %+v\nwas %+v", eb[i], ea[i])
		}
	}
}

// What an archive says of itself isn't believed.
func TestImportRefuses(t *testing.T) {
	ctx := context.Background()
	s, err := store.Open(ctx, t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	dir := t.TempDir()
	for name, c := range map[string]struct{ entry, text, says string }{
		"grade outside":   {exportEpisodes, `[{"name": "monday", "settings": {"schema": 1, "out": "/out", "preset": "web-1080p", "stops": 0.1, "de00": 1.5}, "carried": "../../g.toml"}]`, "a grade lies in it as"},
		"grade missing":   {exportEpisodes, `[{"name": "monday", "settings": {"schema": 1, "out": "/out", "preset": "web-1080p", "stops": 0.1, "de00": 1.5}, "carried": "grades/1/g.toml"}]`, "grades/1/g.toml is missing"},
		"name":            {exportEpisodes, `[{"name": "a b", "settings": {"schema": 1, "out": "/out", "preset": "web-1080p", "stops": 0.1, "de00": 1.5}}]`, "can't be the name of an episode"},
		"later version":   {exportEpisodes, `[{"name": "a", "settings": {"schema": 9}}]`, "is of version 9"},
		"state":           {exportEpisodes, `[{"name": "a", "settings": {"schema": 1, "out": "/out", "preset": "web-1080p", "stops": 0.1, "de00": 1.5}, "clips": [{"number": 1, "state": "gone"}]}]`, "which is no state"},
		"numbers":         {exportEpisodes, `[{"name": "a", "settings": {"schema": 1, "out": "/out", "preset": "web-1080p", "stops": 0.1, "de00": 1.5}, "clips": [{"number": 2, "state": "done"}]}]`, "stands at place 1"},
		"answer":          {exportEpisodes, `[{"name": "a", "settings": {"schema": 1, "out": "/out", "preset": "web-1080p", "stops": 0.1, "de00": 1.5}, "clips": [{"number": 1, "state": "done", "answer": 3}]}]`, "clip 1 of episode a"},
		"limit":           {exportEpisodes, `[{"name": "a", "settings": {"schema": 1, "out": "/out", "preset": "web-1080p", "stops": -5, "de00": 1.5}}]`, "a limit of -5 stops"},
		"preset":          {exportEpisodes, `[{"name": "a", "settings": {"schema": 1, "out": "/out", "preset": "nosuch", "stops": 0.1, "de00": 1.5}}]`, "nosuch"},
		"no folder":       {exportEpisodes, `[{"name": "a", "settings": {"schema": 1, "preset": "web-1080p", "stops": 0.1, "de00": 1.5}}]`, "no folder for the finished files"},
		"matched of none": {exportEpisodes, `[{"name": "a", "settings": {"schema": 1, "out": "/out", "preset": "web-1080p", "stops": 0.1, "de00": 1.5}, "clips": [{"number": 1, "state": "done", "carried": "grades/1/g.toml"}]}]`, "of which nothing was found"},
		"twice":           {exportEpisodes, `[{"name": "a", "settings": {"schema": 1, "out": "/out", "preset": "web-1080p", "stops": 0.1, "de00": 1.5}}, {"name": "a", "settings": {"schema": 1, "out": "/out", "preset": "web-1080p", "stops": 0.1, "de00": 1.5}}]`, "is there twice"},
		"form of the set": {exportSet, `{"kind": "lampwise set", "form": 99}`, "reads forms 1 to 2"},
	} {
		old, err := zip.NewReader(bytes.NewReader(someExport(t)), int64(len(someExport(t))))
		if err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		z := zip.NewWriter(&out)
		for _, f := range old.File {
			if f.Name == c.entry {
				w, err := z.Create(f.Name)
				if err == nil {
					_, err = w.Write([]byte(c.text))
				}
				if err != nil {
					t.Fatal(err)
				}
				continue
			}
			if err := z.Copy(f); err != nil {
				t.Fatal(err)
			}
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(dir, "x.lampset")
		if err := os.WriteFile(file, out.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		_, err = ImportSet(ctx, s, file, "", dir, false)
		if f, ok := fault.As(err); !ok || f.Class != fault.Input || f.Hint == "" || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
		if sets, _ := s.Sets(ctx); len(sets) != 0 {
			t.Errorf("%s: something was kept", name)
		}
	}
}

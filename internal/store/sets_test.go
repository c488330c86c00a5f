package store

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
)

// setStore is what the jobs ask of a store for sets; every one must pass conform.
type setStore interface {
	KeepSet(ctx context.Context, set book.Set, pictures []byte, forgetChecks bool) (book.Set, error)
	ChangeSet(ctx context.Context, set book.Set) error
	Set(ctx context.Context, name string) (book.Set, error)
	Sets(ctx context.Context) ([]book.Set, error)
	ForgetSet(ctx context.Context, name string) error
	Pictures(ctx context.Context, set book.Set) ([]byte, error)
	KeepSetCheck(ctx context.Context, name string, c book.SetCheck) error
	SetChecks(ctx context.Context, name string, limit int) ([]book.SetCheck, error)
}

func someSet(name string, level float64) book.Set {
	additivity := 0.004
	return book.Set{
		Name: name, Learned: time.Date(2026, 3, 1, 12, 0, 0, 123456789, time.UTC), Changed: time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC),
		Settings: book.SetSettings{
			Schema: 1, Order: "all, -key, all", Additivity: &additivity, Notes: []string{"ä — ö"},
			Clip:    book.SetClip{File: "switch.mov", Curve: "log-420", Gamut: "bt709", White: &[2]float64{0.3457, 0.3585}},
			Holds:   []book.SetHold{{Start: 0, End: 1.5, On: []string{"key"}}},
			Lamps:   []book.SetLamp{{Name: "key", Level: level, Dimmer: [][2]float64{{0, 0}, {1, 1}}}},
			Regions: []book.SetRegion{{Name: "face-lit", X: 0.1, Y: 0.2, W: 0.3, H: 0.4, Said: true}},
		},
	}
}

// conform holds a store to what the jobs rely on; open gives the same store
// again, as after a new start.
func conform(t *testing.T, open func() setStore) {
	ctx := context.Background()
	s := open()
	if sets, err := s.Sets(ctx); err != nil || len(sets) != 0 {
		t.Fatalf("a new store lists %v, %v", sets, err)
	}
	isFault := func(what string, err error, class fault.Class) {
		t.Helper()
		if f, ok := fault.As(err); !ok || f.Class != class || f.Hint == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
	_, err := s.Set(ctx, "garage")
	isFault("an unknown set", err, fault.Usage)
	isFault("forgetting an unknown set", s.ForgetSet(ctx, "garage"), fault.Usage)
	isFault("changing an unknown set", s.ChangeSet(ctx, someSet("garage", 1)), fault.Usage)
	if err := s.KeepSetCheck(ctx, "garage", book.SetCheck{Answer: []byte("{}")}); err == nil {
		t.Error("a check of no set was kept")
	}

	pictures := bytes.Repeat([]byte("light adds "), 1000)
	kept, err := s.KeepSet(ctx, someSet("garage", 0.5), pictures, false)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		c := book.SetCheck{
			When: time.Date(2026, 3, 3, 12, 0, i, 0, time.UTC), File: fmt.Sprint("day-", i), Verdict: "drift",
			Changes: map[string]float64{"key": 0.1 * float64(i)}, Answer: []byte(`{"verdict":"drift"}`),
		}
		if err := s.KeepSetCheck(ctx, "garage", c); err != nil {
			t.Fatal(err)
		}
	}

	// All of it is there after a new start.
	s = open()
	got, err := s.Set(ctx, "garage")
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, kept) {
		t.Errorf("kept\n%+v\nread\n%+v", kept, got)
	}
	if data, err := s.Pictures(ctx, got); err != nil || !bytes.Equal(data, pictures) {
		t.Errorf("pictures: %d bytes, %v", len(data), err)
	}
	checks, err := s.SetChecks(ctx, "garage", 2)
	if err != nil || len(checks) != 2 || checks[0].File != "day-1" || checks[1].File != "day-2" || checks[1].Changes["key"] != 0.2 || !checks[1].When.Equal(time.Date(2026, 3, 3, 12, 0, 2, 0, time.UTC)) {
		t.Errorf("the newest two checks, oldest first: %+v, %v", checks, err)
	}

	// Changed settings leave pictures and checks; pictures kept anew leave the
	// checks or not, as asked.
	changed := someSet("garage", 0.25)
	if err := s.ChangeSet(ctx, changed); err != nil {
		t.Fatal(err)
	}
	if got, err = s.Set(ctx, "garage"); err != nil || got.Settings.Lamps[0].Level != 0.25 || got.Pictures != kept.Pictures {
		t.Errorf("changed: %+v, %v", got, err)
	}
	if _, err = s.KeepSet(ctx, someSet("garage", 0.3), []byte("others"), false); err != nil {
		t.Fatal(err)
	}
	if checks, err = s.SetChecks(ctx, "garage", 10); err != nil || len(checks) != 3 {
		t.Errorf("checks after new pictures: %d, %v", len(checks), err)
	}
	if _, err = s.KeepSet(ctx, someSet("garage", 0.3), []byte("others"), true); err != nil {
		t.Fatal(err)
	}
	if checks, err = s.SetChecks(ctx, "garage", 10); err != nil || len(checks) != 0 {
		t.Errorf("checks after another switch clip: %d, %v", len(checks), err)
	}

	// Two sets may share pictures; forgetting one leaves the other whole.
	if _, err = s.KeepSet(ctx, someSet("attic", 0.3), []byte("others"), false); err != nil {
		t.Fatal(err)
	}
	if err := s.ForgetSet(ctx, "garage"); err != nil {
		t.Fatal(err)
	}
	sets, err := s.Sets(ctx)
	if err != nil || len(sets) != 1 || sets[0].Name != "attic" {
		t.Fatalf("sets: %+v, %v", sets, err)
	}
	if data, err := s.Pictures(ctx, sets[0]); err != nil || string(data) != "others" {
		t.Errorf("shared pictures: %q, %v", data, err)
	}
}

func TestSetsConform(t *testing.T) {
	folder := t.TempDir()
	conform(t, func() setStore {
		s, err := Open(context.Background(), folder)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.Close() })
		return s
	})
}

func TestDamagedPicturesAreNoticed(t *testing.T) {
	ctx, folder := context.Background(), t.TempDir()
	s, err := Open(ctx, folder)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	set, err := s.KeepSet(ctx, someSet("garage", 1), []byte("light"), false)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(s.picturesPath(set.Pictures), []byte("lihgt"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err = s.Pictures(ctx, set)
	if f, ok := fault.As(err); !ok || f.Code != "pictures-damaged" {
		t.Errorf("damaged pictures: %v", err)
	}
	// Kept again, they are whole again.
	if set, err = s.KeepSet(ctx, set, []byte("light"), false); err != nil {
		t.Fatal(err)
	}
	if data, err := s.Pictures(ctx, set); err != nil || string(data) != "light" {
		t.Errorf("%q, %v", data, err)
	}
	if err := os.Remove(s.picturesPath(set.Pictures)); err != nil {
		t.Fatal(err)
	}
	_, err = s.Pictures(ctx, set)
	if f, ok := fault.As(err); !ok || f.Code != "pictures-missing" {
		t.Errorf("missing pictures: %v", err)
	}
}

func TestLeftOverPicturesAreSwept(t *testing.T) {
	ctx, folder := context.Background(), t.TempDir()
	s, err := Open(ctx, folder)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	young, err := s.writePictures([]byte("another process is about to name me"))
	if err != nil {
		t.Fatal(err)
	}
	old, err := s.writePictures([]byte("nobody names me any more"))
	if err != nil {
		t.Fatal(err)
	}
	past := time.Now().Add(-2 * leftOver)
	if err := os.Chtimes(s.picturesPath(old), past, past); err != nil {
		t.Fatal(err)
	}
	if _, err := s.KeepSet(ctx, someSet("garage", 1), []byte("light"), false); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(s.picturesPath(old)); err == nil {
		t.Error("a left-over file stayed")
	}
	if _, err := os.Stat(s.picturesPath(young)); err != nil {
		t.Errorf("a young file was swept: %v", err)
	}
}

// keeperFolder makes this test binary a process that keeps sets without end.
const keeperFolder = "LAMPWISE_TEST_KEEPER"

func TestMain(m *testing.M) {
	if folder := os.Getenv(keeperFolder); folder != "" {
		keepForever(folder)
	}
	os.Exit(m.Run())
}

func keepForever(folder string) {
	ctx := context.Background()
	s, err := Open(ctx, folder)
	if err != nil {
		fmt.Println("error:", err)
		os.Exit(1)
	}
	for i := 0; ; i++ {
		data := bytes.Repeat([]byte{byte(i)}, 200_000+i)
		if _, err := s.KeepSet(ctx, someSet("garage", float64(i%100)/100), data, false); err != nil {
			fmt.Println("error:", err)
			os.Exit(1)
		}
		fmt.Println("kept", i)
	}
}

// TestKilled kills a process that keeps sets, again and again at odd moments:
// what it said was kept is there and whole, or something newer is.
func TestKilled(t *testing.T) {
	folder := t.TempDir()
	ctx := context.Background()
	for round := range 6 {
		cmd := exec.Command(os.Args[0], "-test.run=^$")
		cmd.Env = append(os.Environ(), keeperFolder+"="+folder)
		var out bytes.Buffer
		cmd.Stdout = &out
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(300+137*round) * time.Millisecond)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = cmd.Wait() // killed
		if strings.Contains(out.String(), "error:") {
			t.Fatal(out.String())
		}
		said := strings.Count(out.String(), "kept ")
		s, err := Open(ctx, folder)
		if err != nil {
			t.Fatalf("round %d: after a kill the store doesn't open: %v", round, err)
		}
		set, err := s.Set(ctx, "garage")
		if err != nil {
			if said > 0 {
				t.Fatalf("round %d: %d sets were kept, none is there: %v", round, said, err)
			}
			s.Close()
			continue
		}
		data, err := s.Pictures(ctx, set)
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if n := len(data) - 200_000; said > 0 && n < said-1 {
			t.Errorf("round %d: set %d was kept, %d is there", round, said-1, n)
		}
		s.Close()
		if leftovers, err := filepath.Glob(filepath.Join(folder, picturesFolder, "*.lamps")); err != nil || len(leftovers) == 0 {
			t.Errorf("round %d: no pictures: %v", round, err)
		}
	}
}

package store

import (
	"context"
	"slices"
	"testing"
	"time"
)

func TestCalls(t *testing.T) {
	ctx := context.Background()
	s, err := Open(ctx, t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	day := time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)
	for i, order := range []string{"all, -key, dark", "dark, key", "all, -key, dark"} {
		if err := s.KeepCall(ctx, order, day.Add(time.Duration(i)*time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	got, err := s.Calls(ctx)
	if err != nil || !slices.Equal(got, []string{"all, -key, dark", "dark, key"}) {
		t.Errorf("%q, %v", got, err)
	}
}

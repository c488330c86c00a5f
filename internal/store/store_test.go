package store

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
)

func TestCurveAliasIsKept(t *testing.T) {
	ctx, folder := context.Background(), filepath.Join(t.TempDir(), "a folder with spaces & 100%")
	s, err := Open(ctx, folder)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok, err := s.CurveAlias(ctx, "x"); ok || err != nil {
		t.Fatalf("an empty store knows an alias: %v, %v", ok, err)
	}
	for _, curve := range []string{"log-420", "log-433"} {
		if err := s.KeepCurveAlias(ctx, book.CurveAlias{Fingerprint: "x", Curve: curve, Said: time.Unix(1000, 0)}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if s, err = Open(ctx, folder); err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	got, ok, err := s.CurveAlias(ctx, "x")
	if err != nil || !ok || got.Curve != "log-433" || !got.Said.Equal(time.Unix(1000, 0)) {
		t.Fatalf("after closing and opening again: %+v, %v, %v", got, ok, err)
	}
}

func TestOpenRefusesInPlainWords(t *testing.T) {
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, fileName), []byte("this is a shopping list, not a database; it is long enough to be looked at"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err := Open(context.Background(), folder)
	f, ok := fault.As(err)
	if !ok || f.Class != fault.Storage || f.Hint == "" {
		t.Fatalf("a damaged database: %v", err)
	}
	inTheWay := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(inTheWay, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(context.Background(), inTheWay); err == nil {
		t.Fatal("a file was taken as the data folder")
	}
}

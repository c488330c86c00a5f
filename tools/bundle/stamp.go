package main

import (
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// Stamp is the SHA-256 of all sources the page is built from, names and
// contents, in the order of their names. web's own test computes the same.
func Stamp(web string) (string, error) {
	sum := sha256.New()
	err := filepath.WalkDir(filepath.Join(web, "src"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		return add(sum.Write, web, path)
	})
	if err != nil {
		return "", err
	}
	if err := add(sum.Write, web, filepath.Join(web, "package-lock.json")); err != nil {
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

func add(write func([]byte) (int, error), web, path string) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	rel, err := filepath.Rel(web, path)
	if err != nil {
		return err
	}
	_, _ = write([]byte(strings.ReplaceAll(rel, "\\", "/") + "\n"))
	_, _ = write(data)
	return nil
}

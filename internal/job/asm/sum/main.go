// Command sum writes asm/sum.txt: what the generator and its output were when
// the output was last made. A test in package job compares.
package main

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

func main() {
	names, err := filepath.Glob("*.go")
	if err != nil {
		panic(err)
	}
	names = append(names, "../squares_amd64.s", "../squaresstub_amd64.go")
	slices.Sort(names)
	var text strings.Builder
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			panic(err)
		}
		fmt.Fprintf(&text, "%x %s\n", sha256.Sum256(data), filepath.ToSlash(name))
	}
	if err := os.WriteFile("sum.txt", []byte(text.String()), 0o644); err != nil {
		panic(err)
	}
}

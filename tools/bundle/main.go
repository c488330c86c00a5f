// Command bundle builds the page: web/src to web/dist, without node.
//
//	go run -C tools ./bundle ../web            builds
//	go run -C tools ./bundle -check ../web     fails when what stands is another
package main

import (
	"bytes"
	"compress/gzip"
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"github.com/evanw/esbuild/pkg/api"
)

// limit is how large the page's script may be, compressed.
const limit = 200_000

func main() {
	check := flag.Bool("check", false, "compare with what stands, write nothing")
	flag.Parse()
	if err := run(flag.Arg(0), *check); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(web string, check bool) error {
	web, err := filepath.Abs(web)
	if err != nil {
		return err
	}
	built := api.Build(api.BuildOptions{
		AbsWorkingDir: web, EntryPoints: []string{"src/app.tsx"}, Outfile: filepath.Join(web, "dist", "app.js"),
		Bundle: true, MinifySyntax: true, MinifyWhitespace: true, MinifyIdentifiers: true,
		Format: api.FormatESModule, Target: api.ES2022, JSX: api.JSXAutomatic, JSXImportSource: "preact",
		LegalComments: api.LegalCommentsEndOfFile, Charset: api.CharsetUTF8, LogLevel: api.LogLevelWarning,
		Loader: map[string]api.Loader{".svg": api.LoaderDataURL},
	})
	if len(built.Errors) > 0 {
		return fmt.Errorf("%d errors", len(built.Errors))
	}
	files := map[string][]byte{}
	for _, f := range built.OutputFiles {
		files[filepath.Base(f.Path)] = f.Contents
	}
	if files["index.html"], err = os.ReadFile(filepath.Join(web, "src", "index.html")); err != nil {
		return err
	}
	stamp, err := Stamp(web)
	if err != nil {
		return err
	}
	files["stamp.txt"] = []byte(stamp + "\n")
	for name, data := range files {
		path := filepath.Join(web, "dist", name)
		if check {
			if old, err := os.ReadFile(path); err != nil || !bytes.Equal(old, data) {
				return fmt.Errorf("%s is stale: make web", path)
			}
			continue
		}
		if err := os.WriteFile(path, data, 0o644); err != nil {
			return err
		}
	}
	var packed bytes.Buffer
	z, _ := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	_, _ = z.Write(files["app.js"])
	_ = z.Close()
	fmt.Printf("app.js %d bytes, %d compressed\n", len(files["app.js"]), packed.Len())
	if packed.Len() > limit {
		return fmt.Errorf("app.js is larger than %d bytes compressed", limit)
	}
	return nil
}

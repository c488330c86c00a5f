package main

import (
	"context"
	"fmt"
	"hash/fnv"
	"net"
	"path/filepath"
	"strconv"

	"github.com/spf13/cobra"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/job"
	"lampwise/internal/media"
	"lampwise/internal/server"
	"lampwise/web"
)

func (a *app) serveCommand() *cobra.Command {
	var port int
	var closed, lan bool
	cmd := &cobra.Command{
		Use:   "serve [FOLDER…]",
		Short: "open the page: the job in a browser, live",
		Long: `Serves the page on this machine alone and opens it in the browser. Only the
folders named (without one: the folder you are in) can be read and written by it.
It ends with Ctrl-C.

With --lan a phone on the same private network may be paired by a code that the
page shows, for the set check, the set card and the caller alone. That connection
isn't encrypted: use it on a network you trust.`,
		Example: `  lampwise serve lesson-12
  lampwise serve --no-open --port 4100 lesson-12 luts
  lampwise serve --lan lesson-12`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, folders []string) error {
			if len(folders) == 0 {
				folders = []string{"."}
			}
			if port < 0 || port > 65535 {
				return fault.New(fault.Usage, "port", "0 takes a free one.", "%d is no port", port)
			}
			return a.serve(cmd.Context(), folders, port, !closed, lan)
		},
	}
	f := cmd.Flags()
	f.IntVar(&port, "port", 0, "port to listen on (0: the same one for the same folders where it is free)")
	f.BoolVar(&lan, "lan", false, "let phones on the private network be paired, for the set check, the set card and the caller")
	f.BoolVar(&closed, "no-open", false, "don't open the browser")
	return cmd
}

// servedAt is what serve says with --json, once it listens.
type servedAt struct {
	URL     string   `json:"url"`
	Folders []string `json:"folders"`
	Phones  []string `json:"phones,omitempty"` // addresses for phones, with --lan
}

func (a *app) serve(ctx context.Context, folders []string, port int, open, lan bool) error {
	store, err := a.openStore(ctx)
	if err != nil {
		return err
	}
	defer store.Close()
	l, err := listenFor(folders, port)
	if err != nil {
		return fault.Wrap(err, fault.Usage, "port", "Choose another with --port, or leave it out for a free one.", "port %d can't be listened on: %v", port, err)
	}
	defer l.Close()
	s, err := server.New(server.Options{
		Folders: folders, Store: store, Assets: web.Assets(), Host: l.Addr().String(),
		Work: func(ctx context.Context, e book.Episode, report job.Progress) error {
			return a.workThrough(ctx, store, "", 1, []book.Episode{e}, report)
		},
	})
	if err != nil {
		return err
	}
	defer s.Close()
	at := servedAt{URL: s.URL(), Folders: folders}
	if lan {
		// The same port where it is free on all addresses.
		phones, err := lanListeners(l.Addr().(*net.TCPAddr).Port)
		if err != nil {
			return err
		}
		for _, p := range phones {
			defer p.Close()
			context.AfterFunc(ctx, func() { p.Close() })
			at.Phones = append(at.Phones, "http://"+p.Addr().String()+"/")
		}
		go func() { _ = s.ServeLAN(phones) }()
	}
	if a.json {
		if err := a.answer(at, nil); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(a.out, "The page is at %s\n", at.URL)
		for _, p := range at.Phones {
			fmt.Fprintf(a.out, "Phones: %s (press “pair a phone” on the page for a code; not encrypted)\n", p)
		}
		a.note("Ctrl-C ends it.")
	}
	if open {
		if err := media.ShowPage(ctx, at.URL); err != nil {
			a.note("The browser could not be opened (%v): open the address yourself.", err)
		}
	}
	context.AfterFunc(ctx, func() { l.Close() })
	return s.Serve(l)
}

// Ports that a page is looked for at first: below those that systems hand out.
const (
	firstPort = 21000
	mostPorts = 8000
)

// listenFor listens on a port of this machine. With 0 it is one that goes with
// the folders, so that a page finds again what the browser kept for it; where
// another program has it, a free one.
func listenFor(folders []string, port int) (net.Listener, error) {
	listen := func(port int) (net.Listener, error) {
		return net.Listen("tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(port)))
	}
	if port != 0 {
		return listen(port)
	}
	sum := fnv.New32a()
	for _, f := range folders {
		if abs, err := filepath.Abs(f); err == nil {
			f = abs
		}
		fmt.Fprintln(sum, f)
	}
	if l, err := listen(firstPort + int(sum.Sum32()%mostPorts)); err == nil {
		return l, nil
	}
	return listen(0)
}

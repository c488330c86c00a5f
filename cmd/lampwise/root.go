package main

import (
	"context"
	"io"
	"path/filepath"
	"strings"

	"github.com/adrg/xdg"
	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/job"
	"lampwise/internal/store"
)

// run carries out one command line and returns the exit code.
func run(ctx context.Context, args []string, out, err io.Writer) int {
	a := &app{out: out, err: err}
	root := a.root()
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(err)
	if e := root.ExecuteContext(ctx); e != nil {
		if code, told := e.(outcome); told {
			return int(code)
		}
		// A flag error comes before flags are read: look for --json by hand.
		for _, arg := range args {
			a.json = a.json || arg == "--json"
		}
		return a.fail(e)
	}
	return 0
}

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "lampwise",
		Short: "joins the set to the screen by measurement",
		Long: `lampwise joins the set to the screen by measurement: from a recorded log clip
to a finished BT.709 picture, exact, told in stops, and verified.

Works offline on your own files. The original clip is never written to.`,
		SilenceErrors:     true,
		SilenceUsage:      true,
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
		Args:              cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cmd.Help()
			}
			var names []string
			for _, c := range cmd.Commands() {
				names = append(names, c.Name())
			}
			hint := "lampwise --help lists the commands."
			if near, ok := fault.Nearest(args[0], names); ok {
				hint = "Did you mean “" + near + "”? " + hint
			}
			return fault.New(fault.Usage, "command", hint, "%q is no command", args[0])
		},
	}
	root.PersistentFlags().BoolVar(&a.json, "json", false, "answer with one JSON object (docs/json.md)")
	root.PersistentFlags().StringVar(&a.data, "data", "", "folder for lampwise's own data (default: the system's place for user data)")
	root.PersistentPreRun = func(*cobra.Command, []string) { job.KeepTablesIn(a.tablesFolder()) }
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return fault.Wrap(err, fault.Usage, "flag", cmd.CommandPath()+" --help shows the flags.", "%s", strings.TrimPrefix(err.Error(), "flag: "))
	})
	root.AddCommand(a.curvesCommand(), a.probeCommand(), a.doctorCommand(), a.gradeCommand(),
		a.renderCommand(), a.verifyCommand(), a.lutCommand(), a.demoCommand(),
		a.callCommand(), a.planCommand(), a.lensCommand(), a.exposureCommand(), a.learnCommand(), a.solveCommand(), a.checkCommand(), a.setsCommand(), a.episodesCommand(), a.workCommand(), a.handoffCommand(), a.measureCommand(),
		a.serveCommand(), a.reportCommand(), a.sourcesCommand())
	return root
}

// outcome is an exit code other than 0 for work that was done and has been
// told of already: nothing more is printed.
type outcome fault.Class

func (o outcome) Error() string { return "told already" }

// errProblems ends a command that found what it looked at not as it should be.
const errProblems = outcome(fault.Drift)

// errMissing ends doctor when something needed is not there.
const errMissing = outcome(fault.Missing)

// openStore opens the user's data.
func (a *app) openStore(ctx context.Context) (*store.Store, error) {
	folder := a.data
	if folder == "" {
		folder = filepath.Join(xdg.DataHome, "lampwise")
	}
	return store.Open(ctx, folder)
}

// tablesFolder is where baked tables are kept: among the user's own data if
// that has a place of its own, else where the system has what can be made anew.
func (a *app) tablesFolder() string {
	if a.data != "" {
		return filepath.Join(a.data, "tables")
	}
	return filepath.Join(xdg.CacheHome, "lampwise", "tables")
}

// exactly is cobra's ExactArgs with a fault: what names the arguments.
func exactly(n int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) == n {
			return nil
		}
		return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.",
			"%s takes %s; %d given", cmd.CommandPath(), what, len(args))
	}
}

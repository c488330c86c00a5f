package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lampwise/internal/media"
)

func (a *app) doctorCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "doctor",
		Short:   "what this machine lacks",
		Long:    "Looks for the programs and encoders lampwise needs and says how to get what is missing.\nExit code 6 when something needed is missing.",
		Example: "  lampwise doctor",
		Args:    exactly(0, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			findings := media.Doctor(cmd.Context())
			answer := struct {
				OK       bool            `json:"ok"`
				Findings []media.Finding `json:"findings"`
			}{true, findings}
			for _, f := range findings {
				answer.OK = answer.OK && (f.OK || !f.Required)
			}
			if err := a.answer(answer, func(w io.Writer) {
				for _, f := range findings {
					mark := "ok     "
					switch {
					case !f.OK && f.Required:
						mark = "MISSING"
					case !f.OK:
						mark = "absent "
					}
					detail := f.Found
					if !f.OK {
						detail = f.Problem
					}
					fmt.Fprintf(w, "%s  %s: %s\n", mark, f.Name, detail)
					if !f.OK && f.Hint != "" {
						fmt.Fprintf(w, "         hint: %s\n", f.Hint)
					}
				}
			}); err != nil {
				return err
			}
			if !answer.OK {
				return errMissing
			}
			return nil
		},
	}
}

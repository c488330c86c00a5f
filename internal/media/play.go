package media

import (
	"context"
	"os/exec"
)

// Players and speakers that are looked for, the first found first, with the
// arguments before the file or the words. None is required: without a player
// the terminal's bell is left, without a speaker the beeps and the written words.
var (
	players = []program{
		{"ffplay", []string{"-nodisp", "-autoexit", "-loglevel", "error"}},
		{"paplay", nil},
		{"aplay", []string{"-q"}},
		{"afplay", nil},
	}
	speakers = []program{
		{"espeak-ng", []string{"-s", "150", "--"}},
		{"say", nil},
	}
)

type program struct {
	name   string
	before []string
}

// Player is a program that makes sound.
type Player struct {
	Name   string
	path   string
	before []string
}

// FindPlayer finds a program that plays a WAVE file; nil when there is none.
func FindPlayer() *Player { return findProgram(players) }

// FindSpeaker finds a program that speaks words; nil when there is none.
func FindSpeaker() *Player { return findProgram(speakers) }

func findProgram(list []program) *Player {
	for _, p := range list {
		if path, err := exec.LookPath(p.name); err == nil {
			return &Player{p.name, path, p.before}
		}
	}
	return nil
}

// Run plays a file or speaks words, to its end.
func (p *Player) Run(ctx context.Context, what string) error {
	_, err := runTool(ctx, p.path, append(append([]string{}, p.before...), what), 1<<16)
	return err
}

// doctorSound says whether the caller can be heard.
func doctorSound(system string) []Finding {
	install := map[string][2]string{
		"linux":  {"`sudo apt-get install ffmpeg` brings ffplay; or write the sound with lampwise call --wav and play it on a phone", "`sudo apt-get install espeak-ng`; without it the caller beeps and writes the words"},
		"darwin": {"macOS has afplay; or write the sound with lampwise call --wav", "macOS has say"},
	}
	hint, ok := install[system]
	if !ok {
		hint = [2]string{"install ffplay, which comes with ffmpeg; or write the sound with lampwise call --wav and play it on a phone", "install espeak-ng; without it the caller beeps and writes the words"}
	}
	out := []Finding{{Name: "sound player"}, {Name: "speech"}}
	for i, p := range []*Player{FindPlayer(), FindSpeaker()} {
		if p != nil {
			out[i].OK, out[i].Found = true, p.Name+" ("+p.path+")"
			continue
		}
		out[i].Problem, out[i].Hint = "none is there; the caller (lampwise call) would use it", hint[i]
	}
	return out
}

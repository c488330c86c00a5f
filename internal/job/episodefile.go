package job

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"lampwise/internal/book"
)

// episodefile.go says which files are a clip's own: the folder it is made in, the
// matched grade, and the finished file from the moment it has its name. Nobody
// else's is ever replaced.

// room is the folder in which the clip's file is made.
func (w *clipWork) room() string {
	return filepath.Join(w.episode.Settings.Out, fmt.Sprintf(".lampwise-%s-%s-%03d", w.episode.Set, w.episode.Name, w.clip.Number))
}

// cleanUp removes what was left half done; what can't be removed stays hidden.
func (w *clipWork) cleanUp() { _ = os.RemoveAll(w.room()) }

func (w *clipWork) unfinished() string { return filepath.Join(w.room(), filepath.Base(w.clip.Out)) }

// stepName is the last step: from when it is kept until the clip is done, the
// finished file may have its name already.
const stepName = "name"

// undoNaming takes away the finished file of a run that died between giving it
// its name and saying that the clip is done: nobody was told of it, and the work
// begins anew. If the file is still in the folder it was made in, what has the
// name is somebody else's.
func (w *clipWork) undoNaming() error {
	if w.clip.State != book.ClipWorking || w.clip.Step != stepName || absent(w.unfinished()) != nil || absent(w.clip.Out) == nil {
		return nil
	}
	if err := os.Remove(w.clip.Out); err != nil {
		return storageFault(w.clip.Out, err)
	}
	return nil
}

// name gives the finished file its name, unless something has it.
func (w *clipWork) name(context.Context) error {
	if err := absent(w.clip.Out); err != nil {
		return aside{fmt.Sprintf("%s stands there already and isn't this clip's: move it, or forget the episode and add it with another --out", w.clip.Out)}
	}
	if err := os.Rename(w.unfinished(), w.clip.Out); err != nil {
		return storageFault(w.clip.Out, err)
	}
	return syncFolder(filepath.Dir(w.clip.Out))
}

// gradeFile is where the matched grade goes, beside the reference grade: where it
// went before, else a name that nothing has. It is kept before anything is
// written, so that a run that dies doesn't leave one grade after the other.
func (w *clipWork) gradeFile(ctx context.Context) (string, error) {
	before, err := answerIn(w.clip)
	if err != nil {
		return "", err
	}
	if before != nil && before.Grade != "" && filepath.Dir(before.Grade) == filepath.Dir(w.episode.Settings.Grade) {
		w.answer.Grade = before.Grade
	} else {
		reference := w.episode.Settings.Grade
		stem := strings.TrimSuffix(reference, filepath.Ext(reference)) + fmt.Sprintf("-%s-%03d", w.episode.Name, w.clip.Number)
		w.answer.Grade = stem + ".toml"
		for n := 2; absent(w.answer.Grade) != nil; n++ {
			if n > mostClips {
				return "", absent(w.answer.Grade)
			}
			w.answer.Grade = fmt.Sprintf("%s-%d.toml", stem, n)
		}
	}
	if err := w.takeDown(); err != nil {
		return "", err
	}
	return w.answer.Grade, w.keep(ctx, book.ClipWorking, "match", "")
}

// syncFolder makes a rename last over a power cut. Systems that cannot sync a
// folder keep names in order by themselves.
func syncFolder(folder string) error {
	d, err := os.Open(folder)
	if err != nil {
		return storageFault(folder, err)
	}
	defer d.Close()
	_ = d.Sync()
	return nil
}

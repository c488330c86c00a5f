package media

import (
	"slices"
	"strings"

	"lampwise/internal/fault"
)

// Check finds out, before anything is decoded, what NewWriter would refuse:
// options that do not fit together, a kind of sound the file cannot carry, a
// place that cannot be written to, the source itself as the place. It leaves
// nothing behind.
func (o *WriteOptions) Check(path string) error {
	if _, err := o.check(path); err != nil {
		return err
	}
	source := ""
	if o.Source != nil {
		source = o.Source.Path
	}
	p, err := newPlace(path, o.Overwrite, source)
	if err != nil {
		return err
	}
	p.abandon()
	return nil
}

const soundHint = "have the sound encoded (--sound aac) or left out (--sound none), or name the output with the other ending (.mov, .mp4)"

// movOnly and mp4Only begin the names of kinds of sound that ffmpeg's MOV and
// MP4 writers take and the other of the two refuses (movenc.c of ffmpeg 5.1).
var (
	movOnly = []string{"pcm_"}
	mp4Only = []string{"flac", "opus", "truehd"}
)

// checkSound refuses sound that the container cannot carry as it is.
func (o *WriteOptions) checkSound(path, container string) error {
	if o.Source == nil || o.Sound != "" && o.Sound != SoundCopy {
		return nil
	}
	other, wrong := ".mov", movOnly
	if container == "mov" {
		other, wrong = ".mp4", mp4Only
	}
	for _, a := range o.Source.Audio {
		if slices.ContainsFunc(wrong, func(kind string) bool { return strings.HasPrefix(a.Codec, kind) }) {
			return fault.New(fault.Usage, "sound-container", "name the output "+other+", or have the sound encoded (--sound aac) or left out (--sound none)",
				"%s: the clip's sound (%s) cannot be carried by a .%s file as it is", path, a.Codec, container)
		}
	}
	return nil
}

// copies says whether sound of a kind goes into the file as it is.
func (o *WriteOptions) copies(codec string) bool {
	return o.Source != nil && (o.Sound == "" || o.Sound == SoundCopy) &&
		slices.ContainsFunc(o.Source.Audio, func(a Audio) bool { return a.Codec == codec })
}

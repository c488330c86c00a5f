package media

import (
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strconv"
	"strings"

	"lampwise/internal/picture"
)

// mayLackChroma is true for what has to be asked: H.264 of a High profile, the
// only ones with pictures without chroma (H.264, A.2), that came as 4:2:0.
func mayLackChroma(v *Video) bool {
	return v.Codec == "h264" && v.Sub == picture.Sub420 && (v.Profile == "" || strings.HasPrefix(v.Profile, "High"))
}

// h264Grey asks for a stream's parameter sets and says whether its picture is
// stored without chroma. ffmpeg hands such a picture out as 4:2:0 with neutral
// chroma, so its pixel format does not tell. What can't be read counts as no:
// the decoder's word then stands.
func h264Grey(ctx context.Context, probe tool, path string, index int) (bool, error) {
	args := append(probeArgs(), "-select_streams", strconv.Itoa(index), "-show_entries", "stream=extradata", "-show_data", "-of", "json=compact=1", "-i", fileURL(path))
	out, err := runTool(ctx, probe.path, args, maxProbeJSON)
	if err != nil {
		return false, err
	}
	var a struct {
		Streams []struct {
			Extradata string `json:"extradata"`
		} `json:"streams"`
	}
	if json.Unmarshal(out, &a) != nil || len(a.Streams) == 0 {
		return false, nil
	}
	idc, ok := chromaFormat(hexDump(a.Streams[0].Extradata))
	return ok && idc == 0, nil
}

// hexDump reads ffprobe's print of bytes: lines of an offset, a colon, groups
// of four digits in 40 columns, and the same as text.
func hexDump(s string) []byte {
	var out []byte
	for line := range strings.Lines(s) {
		_, line, ok := strings.Cut(line, ": ")
		if !ok {
			continue
		}
		b, err := hex.DecodeString(strings.ReplaceAll(line[:min(40, len(line))], " ", ""))
		if err != nil {
			return nil
		}
		out = append(out, b...)
	}
	return out
}

const (
	spsUnit       = 7        // nal_unit_type of a sequence parameter set (H.264, table 7-1)
	maxChromaIDC  = 3        // chroma_format_idc (7.4.2.1.1)
	maxParameters = 64 << 10 // bytes; a parameter set has some tens
)

// chromaFormat is chroma_format_idc (0: no chroma) of the first sequence
// parameter set in an H.264 stream's extradata: an avcC box (ISO/IEC 14496-15,
// 5.3.3.1) or units after start codes (H.264, annex B).
func chromaFormat(extradata []byte) (idc int, ok bool) {
	if len(extradata) > maxParameters {
		return 0, false
	}
	if len(extradata) > 8 && extradata[0] == 1 {
		if extradata[5]&31 == 0 {
			return 0, false
		}
		size := int(extradata[6])<<8 | int(extradata[7])
		return spsChroma(extradata[8:min(len(extradata), 8+size)])
	}
	for rest := extradata; ; {
		at := bytes.Index(rest, []byte{0, 0, 1})
		if at < 0 {
			return 0, false
		}
		rest = rest[at+3:]
		unit := rest
		if end := bytes.Index(rest, []byte{0, 0, 1}); end >= 0 {
			unit = rest[:end]
		}
		if len(unit) > 0 && unit[0]&31 == spsUnit {
			return spsChroma(unit)
		}
	}
}

// spsChroma reads a sequence parameter set up to chroma_format_idc (H.264, 7.3.2.1.1).
func spsChroma(unit []byte) (idc int, ok bool) {
	if len(unit) < 5 || unit[0]&31 != spsUnit {
		return 0, false
	}
	switch unit[1] { // profile_idc
	case 100, 110, 122, 244, 44, 83, 86, 118, 128, 138, 139, 134, 135:
	default:
		return 1, true // not written: 4:2:0
	}
	// A 3 after two zeros is none of the data (7.3.1).
	b := bitReader{data: bytes.ReplaceAll(unit[4:], []byte{0, 0, 3}, []byte{0, 0})}
	if _, err := b.expGolomb(); err != nil { // seq_parameter_set_id
		return 0, false
	}
	v, err := b.expGolomb()
	return v, err == nil && v <= maxChromaIDC
}

type bitReader struct {
	data []byte
	at   int // bits
}

var errBits = errors.New("media: the bits end early")

func (b *bitReader) bit() (int, error) {
	if b.at/8 >= len(b.data) {
		return 0, errBits
	}
	v := b.data[b.at/8] >> (7 - b.at%8) & 1
	b.at++
	return int(v), nil
}

// expGolomb is ue(v) (H.264, 9.1) of at most 31 bits.
func (b *bitReader) expGolomb() (int, error) {
	zeros := 0
	for {
		v, err := b.bit()
		if err != nil {
			return 0, err
		}
		if v == 1 {
			break
		}
		if zeros++; zeros > 15 {
			return 0, errBits
		}
	}
	v := 1
	for range zeros {
		x, err := b.bit()
		if err != nil {
			return 0, err
		}
		v = v<<1 | x
	}
	return v - 1, nil
}

package lutfile

import (
	"bufio"
	"bytes"
	"io"
)

// open bounds r, drops a UTF-8 byte order mark and refuses what is not text.
func (f file) open(r io.Reader) (*bufio.Reader, error) {
	br := bufio.NewReaderSize(&bounded{r: r, left: MaxFileBytes, f: f}, 1<<16)
	head, err := br.Peek(512)
	if err != nil && err != io.EOF && len(head) == 0 {
		return nil, f.readError(err)
	}
	const hintUTF8 = "save it as UTF-8 text"
	switch {
	case len(head) == 0:
		return nil, f.wrong(0, "lut-empty", hintExport, "the file is empty")
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}), bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return nil, f.wrong(0, "lut-encoding", hintUTF8, "the file is UTF-16 or UTF-32 text; UTF-8 was expected")
	case bytes.HasPrefix(head, []byte{0xef, 0xbb, 0xbf}):
		_, _ = br.Discard(3) // just peeked at
	case bytes.IndexByte(head, 0) >= 0:
		if len(head) > 3 && (head[0] == 0) != (head[1] == 0) && (head[2] == 0) != (head[3] == 0) {
			return nil, f.wrong(0, "lut-encoding", hintUTF8, "the file is UTF-16 text; UTF-8 was expected")
		}
		return nil, f.wrong(0, "lut-binary", "give a .cube, .clf, .cc, .ccc or .cdl file", "the file is binary, not text")
	}
	return br, nil
}

// isXML says whether the first thing in the text that isn't white space is "<".
func isXML(br *bufio.Reader) bool {
	for n := 64; ; n *= 4 {
		head, err := br.Peek(n)
		head = bytes.TrimLeft(head, " \t\r\n")
		if len(head) > 0 {
			return head[0] == '<'
		}
		if err != nil { // shorter than n, or all the buffer holds
			return false
		}
	}
}

package lutfile

import (
	"bufio"
	"bytes"
	"io"
)

// lineReader gives a text's lines without their ends: LF, CR LF or CR.
type lineReader struct {
	br   *bufio.Reader
	f    file
	line int // of what next returned last, from 1
	buf  []byte
}

// next returns the next line, valid until the following call, or io.EOF.
func (l *lineReader) next() ([]byte, error) {
	l.buf = l.buf[:0]
	for {
		if _, err := l.br.Peek(1); err != nil {
			if err != io.EOF {
				return nil, l.f.readError(err)
			}
			if len(l.buf) == 0 {
				return nil, io.EOF
			}
			return l.end()
		}
		chunk, _ := l.br.Peek(l.br.Buffered()) // at least that one byte
		i := bytes.IndexAny(chunk, "\r\n")
		if i < 0 {
			i = len(chunk)
		}
		if len(l.buf)+i > MaxLineBytes {
			return nil, l.f.wrong(l.line+1, "lut-line", hintExport, "the line is longer than %d bytes", MaxLineBytes)
		}
		l.buf = append(l.buf, chunk[:i]...)
		if i == len(chunk) {
			_, _ = l.br.Discard(i) // peeked at
			continue
		}
		cr := chunk[i] == '\r'
		_, _ = l.br.Discard(i + 1) // peeked at
		if cr {
			if b, err := l.br.Peek(1); err == nil && b[0] == '\n' {
				_, _ = l.br.Discard(1)
			}
		}
		return l.end()
	}
}

func (l *lineReader) end() ([]byte, error) {
	l.line++
	if bytes.IndexByte(l.buf, 0) >= 0 {
		return nil, l.f.wrong(l.line, "lut-binary", hintExport, "a zero byte: the file is binary or damaged")
	}
	return l.buf, nil
}

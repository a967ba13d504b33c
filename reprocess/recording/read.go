package recording

import (
	"bytes"
	"errors"
	"fmt"
	"path"
	"strings"
)

// Read understands the bytes of one file. name decides only where the bytes cannot: a WFDB
// header by ".hea", text by anything else. The error's text is the sentence to show.
func Read(name string, data []byte, o Options) (*Recording, error) {
	if len(data) == 0 {
		return nil, errors.New("the file is empty; export the recording again as EDF")
	}
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("the file is longer than %d MiB; export a recording of "+
			"a minute or two instead of the whole memory", MaxBytes>>20)
	}
	r, err := readAs(name, data, o)
	if err != nil {
		return nil, err
	}
	r.hideNames()
	return r, nil
}

func readAs(name string, data []byte, o Options) (*Recording, error) {
	ext := strings.ToLower(path.Ext(strings.ReplaceAll(name, "\\", "/")))
	if isEDF(data) || isBDF(data) {
		return readEDF(data)
	}
	if err := foreign(data); err != nil {
		return nil, err
	}
	switch {
	case ext == ".hea":
		return readWFDB(data, o)
	case ext == ".edf" || ext == ".bdf" || ext == ".rec":
		return nil, errors.New("this is not an EDF or BDF file, whatever its name says; " +
			"export the recording again as EDF")
	case ext == ".dat" || ext == ".i16":
		return nil, errors.New("this is a bare signal file without its description; " +
			"give the .hea file that lies beside it, or export as EDF")
	case !isText(data):
		return nil, errors.New("this is none of the formats read here (EDF, EDF+, BDF, CSV, " +
			"WFDB 16 and 212); export the recording again as EDF, or, if it is the signal file " +
			"of a WFDB record, give its .hea file too")
	}
	return readCSV(data, o)
}

// foreign recognises files that are something else and says what to do about it. The
// signatures are the first bytes of the published formats.
func foreign(data []byte) error {
	head := data[:min(len(data), 1024)]
	low := bytes.ToLower(bytes.TrimLeft(head, "\xef\xbb\xbf \t\r\n"))
	starts := func(s string) bool { return bytes.HasPrefix(head, []byte(s)) }
	switch {
	case bytes.HasPrefix(low, []byte("<!doctype html")), bytes.HasPrefix(low, []byte("<html")),
		bytes.Contains(low, []byte("<html")):
		return errors.New("this is a web page, not a recording (not an EDF or BDF file): the " +
			"download saved an error or login page; sign in there and export again as EDF")
	case bytes.HasPrefix(low, []byte("<")):
		return errors.New("this is an XML file (HL7 aECG or a report); it is not read here; " +
			"export the recording as EDF")
	case starts("PK\x03\x04"):
		return errors.New("this is a zip archive; unpack it and give the EDF file inside")
	case starts("\x1f\x8b"), starts("7z\xbc\xaf"), starts("Rar!"):
		return errors.New("this is a packed archive; unpack it and give the EDF file inside")
	case starts("%PDF"):
		return errors.New("this is a PDF report, not a recording; export the signal as EDF")
	case starts("ISHNE1.0"):
		return errors.New("this is an ISHNE Holter file; it is not read here; " +
			"export the recording as EDF")
	case starts("GDF "):
		return errors.New("this is a GDF file; it is not read here; export as EDF or BDF")
	case len(head) > 132 && string(head[128:132]) == "DICM":
		return errors.New("this is a DICOM file; it is not read here; " +
			"export the recording as EDF")
	case len(head) > 22 && string(head[16:22]) == "SCPECG":
		return errors.New("this is an SCP-ECG file; it is not read here; " +
			"export the recording as EDF")
	case starts("\x89PNG"), starts("\xff\xd8\xff"), starts("GIF8"):
		return errors.New("this is a picture, not a recording; export the signal as EDF")
	}
	return nil
}

// isText tells whether the beginning looks like text in UTF-8, UTF-16 with its mark, or an
// eight-bit code: no control characters but tab and line ends.
func isText(data []byte) bool {
	if utf16Order(data) != nil {
		return true
	}
	for _, c := range data[:min(len(data), 4096)] {
		if c < ' ' && c != '\t' && c != '\n' && c != '\r' || c == 0x7f {
			return false
		}
	}
	return true
}

package sheets

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"proofbell/internal/tables"
	"proofbell/internal/words"
)

// Bounds of the file beside those of package tables. A spreadsheet is a zip of XML that its reader holds in memory several
// times over, and places cells by numbers that the file only claims: so both are looked at first.
const (
	maxParts    = 200
	maxUnpacked = 24_000_000
	maxCells    = 250_000
	maxSheets   = 12
)

var errBounds = errors.New("past a bound")

// bounded looks through a file without keeping it. A fault says which sheet or cell is too much.
func bounded(lang *words.Language, raw []byte) error {
	if len(raw) > tables.MaxFile {
		return tables.TooLarge(lang, "", "")
	}
	notXLSX := tables.Faults{{Say: lang.Say("this is not a spreadsheet file"), Try: lang.Say("save it as XLSX, without a password, or as CSV")}}
	archive, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		return notXLSX
	}
	if len(archive.File) > maxParts {
		return tables.TooLarge(lang, "", "")
	}
	left, cells := int64(maxUnpacked), maxCells
	for _, part := range archive.File {
		in, err := part.Open()
		if err != nil {
			return notXLSX
		}
		// What the directory claims about the size is not believed.
		limited := &io.LimitedReader{R: in, N: left + 1}
		cell := ""
		if strings.HasSuffix(strings.ToLower(part.Name), ".xml") {
			cell, err = countCells(limited, &cells)
		}
		if err == nil {
			_, err = io.Copy(io.Discard, limited)
		}
		_ = in.Close()
		if left = limited.N - 1; left < 0 || errors.Is(err, errBounds) {
			return tables.TooLarge(lang, "", cell)
		}
		if err != nil {
			return notXLSX
		}
	}
	return nil
}

// countCells takes the cells of a part off left. The name is that of the cell that went past a bound.
func countCells(in io.Reader, left *int) (cell string, err error) {
	d := xml.NewDecoder(in)
	for depth := 0; ; {
		token, err := d.RawToken()
		if errors.Is(err, io.EOF) {
			return "", nil
		}
		if err != nil {
			return "", err
		}
		switch e := token.(type) {
		case xml.EndElement:
			depth--
		case xml.StartElement:
			if depth++; depth > 64 {
				return "", errBounds
			}
			ref := ""
			for _, a := range e.Attr {
				if a.Name.Local == "r" {
					ref = a.Value
				}
			}
			switch e.Name.Local {
			case "row":
				if n, err := strconv.Atoi(ref); ref != "" && (err != nil || n > tables.MaxRows+1 || n < 1) {
					return "A" + ref, errBounds
				}
				*left--
			case "c":
				if column, row, err := excelize.CellNameToCoordinates(ref); ref != "" && (err != nil || row > tables.MaxRows+1 || column > tables.MaxColumns) {
					return ref, errBounds
				}
				*left--
			}
			if *left < 0 {
				return ref, errBounds
			}
		}
	}
}

package screen

import (
	"strings"
	"unicode/utf8"
)

// glyphHeight is how many dots high a large letter is. Two dots go into one
// character cell, one above the other, so that dots are about square.
const glyphHeight = 6

// glyph gives the dots of a large letter or digit, row by row; empty for what
// has none. Strokes are a sixth of the height, for reading at a distance.
func glyph(r rune) string {
	switch r {
	case 'A':
		return ".###. #...# #...# ##### #...# #...#"
	case 'B':
		return "####. #...# ####. #...# #...# ####."
	case 'E':
		return "##### #.... ####. #.... #.... #####"
	case 'H':
		return "#...# #...# ##### #...# #...# #...#"
	case 'I':
		return "### .#. .#. .#. .#. ###"
	case 'K':
		return "#...# #..#. ###.. #..#. #...# #...#"
	case 'L':
		return "#.... #.... #.... #.... #.... #####"
	case 'M':
		return "#...# ##.## #.#.# #...# #...# #...#"
	case 'N':
		return "#...# ##..# #.#.# #..## #...# #...#"
	case 'O', '0':
		return ".###. #...# #...# #...# #...# .###."
	case 'R':
		return "####. #...# #...# ####. #..#. #...#"
	case 'S':
		return ".#### #.... .###. ....# ....# ####."
	case 'T':
		return "##### ..#.. ..#.. ..#.. ..#.. ..#.."
	case 'U':
		return "#...# #...# #...# #...# #...# .###."
	case 'V':
		return "#...# #...# #...# .#.#. .#.#. ..#.."
	case '1':
		return ".#. ##. .#. .#. .#. ###"
	case '2':
		return ".###. #...# ...#. ..#.. .#... #####"
	case '3':
		return "####. ....# .###. ....# ....# ####."
	case '4':
		return "#..#. #..#. #..#. ##### ...#. ...#."
	case '5':
		return "##### #.... ####. ....# ....# ####."
	case '6':
		return ".###. #.... ####. #...# #...# .###."
	case '7':
		return "##### ....# ...#. ..#.. ..#.. ..#.."
	case '8':
		return ".###. #...# .###. #...# #...# .###."
	case '9':
		return ".###. #...# #...# .#### ....# .###."
	case '.':
		return ". . . . . #"
	case '-':
		return "... ... ### ... ... ..."
	case ' ':
		return "... ... ... ... ... ..."
	default:
		return ""
	}
}

// large draws a text in large letters, each dot scale cells wide, in rows of
// equal width; nil where a letter has no drawing.
func large(text string, scale int) []string {
	dots := make([]string, glyphHeight)
	for i, r := range []rune(text) {
		rows := strings.Fields(glyph(r))
		if len(rows) != glyphHeight {
			return nil
		}
		for y, row := range rows {
			if i > 0 {
				dots[y] += "."
			}
			dots[y] += row
		}
	}
	var tall []string
	for _, row := range dots {
		var wide strings.Builder
		for _, dot := range row {
			wide.WriteString(strings.Repeat(string(dot), scale))
		}
		for range scale {
			tall = append(tall, wide.String())
		}
	}
	var rows []string
	for y := 0; y+1 < len(tall); y += 2 {
		rows = append(rows, halves(tall[y], tall[y+1]))
	}
	return rows
}

// halves puts two rows of dots into one row of cells.
func halves(upper, lower string) string {
	var b strings.Builder
	for x := range upper {
		switch up, down := upper[x] == '#', lower[x] == '#'; {
		case up && down:
			b.WriteRune('█')
		case up:
			b.WriteRune('▀')
		case down:
			b.WriteRune('▄')
		default:
			b.WriteByte(' ')
		}
	}
	return b.String()
}

// cells counts the cells of a row that large has drawn.
func cells(rows []string) int {
	if len(rows) == 0 {
		return 0
	}
	return utf8.RuneCountInString(rows[0])
}

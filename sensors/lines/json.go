package lines

import (
	"bytes"
	"encoding/json"
	"io"
)

// json reads one JSON object. A mapped value may be a number, a string that
// holds one or a word, true, false or null.
func (f *finder) json(text []byte) error {
	tokens := json.NewDecoder(bytes.NewReader(text))
	tokens.UseNumber()
	if first, err := tokens.Token(); err != nil || first != json.Delim('{') {
		return errMalformed
	}
	if err := f.object(tokens, nil); err != nil {
		return err
	}
	if _, err := tokens.Token(); err != io.EOF {
		return errMalformed
	}
	return nil
}

// object reads what is left of an object, whose own path is given. A line is
// too short for objects to nest deeply.
func (f *finder) object(tokens *json.Decoder, path []byte) error {
	for tokens.More() {
		key, err := tokens.Token()
		if err != nil {
			return errMalformed
		}
		name, isKey := key.(string)
		if !isKey {
			return errMalformed
		}
		inner := append(path[:len(path):len(path)], name...)
		if err := f.member(tokens, inner); err != nil {
			return err
		}
	}
	_, err := tokens.Token() // the closing brace
	return err
}

// member reads the value at a path.
func (f *finder) member(tokens *json.Decoder, path []byte) error {
	token, err := tokens.Token()
	if err != nil {
		return errMalformed
	}
	switch v := token.(type) {
	case json.Delim:
		if f.mapped(path) {
			return errMalformed
		}
		if v == '[' {
			return passOver(tokens)
		}
		return f.object(tokens, append(path, '.'))
	case json.Number:
		return f.named(path, []byte(v))
	case string:
		return f.named(path, []byte(v))
	case bool:
		if v {
			return f.named(path, []byte("true"))
		}
		return f.named(path, []byte("false"))
	default:
		return f.named(path, []byte("null"))
	}
}

// mapped says whether a channel lies at this path.
func (f *finder) mapped(path []byte) bool {
	for i := range f.channels {
		if f.channels[i].Key == string(path) {
			return true
		}
	}
	return false
}

// passOver reads to the end of an array.
func passOver(tokens *json.Decoder) error {
	for depth := 1; depth > 0; {
		token, err := tokens.Token()
		if err != nil {
			return errMalformed
		}
		switch token {
		case json.Delim('['), json.Delim('{'):
			depth++
		case json.Delim(']'), json.Delim('}'):
			depth--
		}
	}
	return nil
}

package main

import (
	"fmt"
	"math"
	"reflect"
	"strconv"

	"github.com/alecthomas/kong"
)

// numberMapper reads the value of every flag that is a number. Unlike the
// parser's own, it takes what follows the flag even when it starts with a
// hyphen, so that "--mv -3.5" means minus three and a half; and it refuses what
// is not a finite number.
type numberMapper struct{}

// Decode takes the next word of the command line into a float64.
func (numberMapper) Decode(ctx *kong.DecodeContext, target reflect.Value) error {
	token := ctx.Scan.Peek()
	if token.IsEOL() {
		return fmt.Errorf("expected a number, and nothing follows")
	}
	number, err := strconv.ParseFloat(token.String(), 64)
	if err != nil || math.IsNaN(number) || math.IsInf(number, 0) {
		return fmt.Errorf("expected a number, not %q", token)
	}
	ctx.Scan.Pop()
	target.SetFloat(number)
	return nil
}

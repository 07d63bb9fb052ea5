package grpcapi

import (
	"strings"
	"unicode/utf8"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// readable makes every text in a message fit for the wire, in place, and gives
// the message back. A wire text has to be UTF-8, or the whole message is
// refused; but the name of a device or a file may be any bytes, and no such
// name may keep an alarm from a client. What can't be read becomes "�".
func readable[M proto.Message](m M) M {
	repair(m.ProtoReflect())
	return m
}

func repair(m protoreflect.Message) {
	m.Range(func(field protoreflect.FieldDescriptor, value protoreflect.Value) bool {
		switch {
		case field.IsList() && field.Kind() == protoreflect.MessageKind:
			for i := range value.List().Len() {
				repair(value.List().Get(i).Message())
			}
		case field.IsList() && field.Kind() == protoreflect.StringKind:
			for i := range value.List().Len() {
				if s := value.List().Get(i).String(); !utf8.ValidString(s) {
					value.List().Set(i, legible(s))
				}
			}
		case field.Kind() == protoreflect.MessageKind:
			repair(value.Message())
		case field.Kind() == protoreflect.StringKind:
			if s := value.String(); !utf8.ValidString(s) {
				m.Set(field, legible(s))
			}
		}
		return true
	})
}

func legible(s string) protoreflect.Value {
	return protoreflect.ValueOfString(strings.ToValidUTF8(s, string(utf8.RuneError)))
}

package config

import (
	"reflect"
	"time"

	"stepgate/rules"
)

// alike tells whether two clinics are the same but for where in the files
// everything stands.
func alike(a, b Clinic) bool { return alikeValue(reflect.ValueOf(a), reflect.ValueOf(b)) }

func alikeValue(a, b reflect.Value) bool {
	switch a.Type() {
	case reflect.TypeFor[rules.Pos]():
		return true
	case reflect.TypeFor[*time.Location]():
		return zoneName(a) == zoneName(b)
	case reflect.TypeFor[Roll]():
		return alikeRolls(a.Interface().(Roll), b.Interface().(Roll))
	}
	switch a.Kind() {
	case reflect.Pointer:
		if a.IsNil() || b.IsNil() {
			return a.IsNil() == b.IsNil()
		}
		return a.Pointer() == b.Pointer() || alikeValue(a.Elem(), b.Elem())
	case reflect.Struct:
		for i := range a.NumField() {
			if !alikeValue(a.Field(i), b.Field(i)) {
				return false
			}
		}
		return true
	case reflect.Slice, reflect.Array:
		if a.Len() != b.Len() {
			return false
		}
		for i := range a.Len() {
			if !alikeValue(a.Index(i), b.Index(i)) {
				return false
			}
		}
		return true
	case reflect.Map:
		if a.Len() != b.Len() {
			return false
		}
		for at := a.MapRange(); at.Next(); {
			other := b.MapIndex(at.Key())
			if !other.IsValid() || !alikeValue(at.Value(), other) {
				return false
			}
		}
		return true
	}
	return a.Equal(b)
}

func alikeRolls(a, b Roll) bool {
	if a.Len() != b.Len() {
		return false
	}
	for i := range a.Len() {
		if !alikeValue(reflect.ValueOf(a.At(i)), reflect.ValueOf(b.At(i))) {
			return false
		}
	}
	return true
}

// zoneName is the name of a zone, which may be none.
func zoneName(v reflect.Value) string {
	if z, ok := v.Interface().(*time.Location); ok && z != nil {
		return z.String()
	}
	return ""
}

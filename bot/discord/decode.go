package discord

import (
	"bytes"
	"encoding/json"
	"errors"
	"reflect"
	"strconv"
	"strings"
)

// decode reads what the service sent as far as it can be read. What we do not know is ignored. A value of another type than
// documented is taken for what it says where that is plain, a number in quotes or an id without them, and otherwise is as
// if it were not there. Only what is no JSON is an error.
func decode(data []byte, into any) error {
	err := json.Unmarshal(data, into)
	if _, odd := errors.AsType[*json.UnmarshalTypeError](err); !odd {
		return err
	}
	reader := json.NewDecoder(bytes.NewReader(data))
	reader.UseNumber() // an id has more digits than a float holds
	var said any
	if err := reader.Decode(&said); err != nil {
		return err
	}
	fitted, err := json.Marshal(fit(said, reflect.TypeOf(into).Elem()))
	if err != nil {
		return err
	}
	if err = json.Unmarshal(fitted, into); err != nil {
		if _, odd := errors.AsType[*json.UnmarshalTypeError](err); odd {
			return nil // a number too large for what it counts
		}
	}
	return err
}

// fit makes a value of the type in which we read it; nil when it says nothing of that type.
func fit(said any, into reflect.Type) any {
	if into.Kind() == reflect.Pointer {
		return fit(said, into.Elem())
	}
	if reflect.PointerTo(into).Implements(reflect.TypeFor[json.Unmarshaler]()) {
		return said
	}
	switch into.Kind() {
	case reflect.String:
		return fitText(said)
	case reflect.Bool:
		if yes, ok := said.(bool); ok {
			return yes
		}
		return fitText(said) == "true"
	case reflect.Int, reflect.Int64:
		if n, err := strconv.ParseFloat(numeral(said), 64); err == nil {
			return json.Number(strconv.FormatFloat(n, 'f', 0, 64))
		}
		return nil
	case reflect.Float64:
		if _, err := strconv.ParseFloat(numeral(said), 64); err == nil {
			return json.Number(numeral(said))
		}
		return nil
	case reflect.Slice, reflect.Array:
		all, _ := said.([]any)
		for i := range all {
			all[i] = fit(all[i], into.Elem())
		}
		return all
	case reflect.Map, reflect.Struct:
		return fitFields(said, into)
	}
	return said
}

// fitText makes a text of what is written in one word.
func fitText(said any) any {
	switch said := said.(type) {
	case string:
		return said
	case json.Number:
		return said.String()
	case bool:
		return strconv.FormatBool(said)
	}
	return nil
}

// numeral is the text of a number, in quotes or not.
func numeral(said any) string {
	text, _ := fitText(said).(string)
	return strings.TrimSpace(text)
}

// fitFields fits the values of an object, each to its field or all to a map's type.
func fitFields(said any, into reflect.Type) any {
	all, ok := said.(map[string]any)
	if !ok {
		return nil
	}
	if into.Kind() == reflect.Map {
		for name := range all {
			all[name] = fit(all[name], into.Elem())
		}
		return all
	}
	for i := range into.NumField() {
		name, _, _ := strings.Cut(into.Field(i).Tag.Get("json"), ",")
		if value, said := all[name]; said {
			all[name] = fit(value, into.Field(i).Type)
		}
	}
	return all
}

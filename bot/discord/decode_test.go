package discord

import (
	"encoding/json"
	"reflect"
	"testing"
)

// TestWhatArrivesIsReadWithTolerance reads an interaction as it is documented (Discord, Interactions, Receiving and
// Responding), and as other hands might write it: numbers in quotes, ids without, null, absent, of another type, unknown.
func TestWhatArrivesIsReadWithTolerance(t *testing.T) {
	t.Parallel()
	const documented = `{"id":"18446744073709551615","application_id":"9007199254740993","type":2,"token":"t","guild_id":"5","locale":"de",
		"member":{"user":{"id":"7","username":"ann","global_name":"Ann"},"nick":"A","roles":["8","9"],"permissions":"2147483647"},"data":{"name":"have"}}`
	want := interaction{
		ID: "18446744073709551615", Application: "9007199254740993", Type: 2, Token: "t", Guild: "5", Locale: "de",
		Member: &guildMember{User: user{ID: "7", Username: "ann", GlobalName: "Ann"}, Nick: "A", Roles: []string{"8", "9"}, Permissions: "2147483647"},
		Data:   json.RawMessage(`{"name":"have"}`),
	}
	for name, text := range map[string]string{
		"as documented": documented,
		"ids as numbers": `{"id":18446744073709551615,"application_id":9007199254740993,"type":2,"token":"t","guild_id":5,"locale":"de",
			"member":{"user":{"id":7,"username":"ann","global_name":"Ann"},"nick":"A","roles":[8,9],"permissions":2147483647},"data":{"name":"have"}}`,
		"numbers in quotes": `{"id":"18446744073709551615","application_id":"9007199254740993","type":"2","token":"t","guild_id":"5","locale":"de",
			"member":{"user":{"id":"7","username":"ann","global_name":"Ann","bot":"false"},"nick":"A","roles":["8","9"],"permissions":"2147483647"},"data":{"name":"have"}}`,
		"null, unknown and of another type": `{"id":"18446744073709551615","application_id":"9007199254740993","type":2.0,"token":"t","guild_id":"5","locale":"de",
			"user":null,"message":"none","channel_id":{"odd":true},"entitlements":[{"new":1}],"shape":{"of":["things","to come"]},
			"member":{"user":{"id":"7","username":"ann","global_name":"Ann","bot":null,"collectibles":{}},"nick":"A","roles":["8","9"],"permissions":"2147483647","avatar":null},
			"data":{"name":"have"}}`,
	} {
		var got interaction
		if err := decode([]byte(text), &got); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if got.Message != nil && reflect.DeepEqual(*got.Message, seenMessage{}) {
			got.Message = nil
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: read as\n%+v\n%+v", name, got, got.Member)
		}
	}
	for _, bad := range []string{"", "{", `{"id":"1"`, "<html>"} {
		if decode([]byte(bad), &interaction{}) == nil {
			t.Errorf("%q is taken for an interaction", bad)
		}
	}
}

// FuzzDecode reads anything as anything that we read: it must not panic, and what is valid JSON is never an error.
func FuzzDecode(f *testing.F) {
	for _, seed := range []string{`{"id":1,"type":"2","data":{"options":[{"value":1.5}]}}`, `[]`, `null`, `{"guilds":{"id":1},"shard":["0","1"]}`, `{"retry_after":"1.5","code":"0"}`, `{"type":1e400}`} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		for _, into := range []any{new(interaction), new(used), new(guildNews), new(gateway), new(refused), new(struct {
			Components []formComponent `json:"components"`
		})} {
			if err := decode(data, into); err != nil && json.Valid(data) {
				t.Fatalf("%T: %v", into, err)
			}
		}
	})
}

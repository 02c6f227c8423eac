package dataset

import (
	"fmt"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/configs"
)

// layoutKeys adds the keys below a struct, as layouts/README.md writes them.
func layoutKeys(t reflect.Type, at string, keys *[]string) {
	for i := range t.NumField() {
		f := t.Field(i)
		name, option, _ := strings.Cut(f.Tag.Get("yaml"), ",")
		if option == "inline" {
			layoutKeys(f.Type, at, keys)
			continue
		}
		if name == "-" || f.Name == "SingleReference" { // refused, with the words that say why
			continue
		}
		key, typ := at+name, f.Type
		if typ.Kind() == reflect.Slice && typ.Elem().Kind() == reflect.Struct {
			key, typ = key+"[]", typ.Elem()
		}
		if typ.Kind() != reflect.Struct || strings.HasSuffix(key, "]") || name == "columns" {
			*keys = append(*keys, key)
		}
		if typ.Kind() == reflect.Struct {
			layoutKeys(typ, key+".", keys)
		}
	}
}

// layouts/README.md explains every key, and no other, with an example.
func TestKeysAreExplained(t *testing.T) {
	text, err := configs.FS.ReadFile("layouts/README.md")
	if err != nil {
		t.Fatal(err)
	}
	var keys, explained []string
	layoutKeys(reflect.TypeFor[Layout](), "", &keys)
	keys = slices.DeleteFunc(keys, func(key string) bool { return key == "tables[]" || key == "references[]" })
	for _, m := range regexp.MustCompile("(?m)^\\| `([a-z_.\\[\\]]+)` \\| (.+) \\| `(.+)` \\|$").FindAllStringSubmatch(string(text), -1) {
		explained = append(explained, m[1])
		last := strings.TrimSuffix(m[1][strings.LastIndex(m[1], ".")+1:], "[]")
		if !strings.HasPrefix(m[3], last+": ") {
			t.Errorf("the example of %s is %s", m[1], m[3])
		}
	}
	slices.Sort(keys)
	slices.Sort(explained)
	if diff := cmp.Diff(keys, explained); diff != "" {
		t.Errorf("keys of a layout, and those that configs/layouts/README.md explains: %s", diff)
	}
}

// The example reads what the layout plain reads.
func TestExampleLayout(t *testing.T) {
	text, err := configs.FS.ReadFile("layouts/example/mine.yaml")
	if err != nil {
		t.Fatal(err)
	}
	root := plant(t, map[string]string{
		"recordings.csv": "recording,person,site,take,label\na,p,AV,2,7\nsub/b,p,MV,,murmur\n",
		"a.wav":          "4000 10", "a.csv": "start_s,end_s,state\n0,0.1,S1\n0.1,0.3,systole\n0.3,0.4,S2\n0.4,0.8,diastole\n",
		"sub/b.WAV": "4000 10", "sub/b.tsv": "0\t0.1\t1\n0.1\t0.3\t2\n",
		"mine.yaml": string(text),
	})
	var found [2]string
	for i, layout := range []string{"plain", root + "/mine.yaml"} {
		s := openLayout(t, root, layout)
		inv, err := s.Scan(t.Context(), fakeProbe, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range s.Recordings {
			r.DataSet = ""
			found[i] += fmt.Sprintf("%+v\n", r)
		}
		found[i] += fmt.Sprint(inv.Annotations, inv.S1, inv.S2, inv.Labels, places(inv.Defects))
	}
	if diff := cmp.Diff(found[0], found[1]); diff != "" || !strings.Contains(found[0], "murmur") {
		t.Errorf("%s\n%s", diff, found[0])
	}
}

// The layout of layouts/README.md reads a hundred recordings in folders by person
// without a defect.
func TestFoldersByPerson(t *testing.T) {
	text, err := os.ReadFile("../../configs/layouts/README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(text), "```yaml\n")
	layout, _, found := strings.Cut(rest, "```")
	if !found {
		t.Fatal("no layout in README.md")
	}
	files := map[string]string{"hospital.yaml": layout}
	people := "number;age;sex;years\n"
	for p := 1; p <= 25; p++ {
		people += fmt.Sprintf("%03d;%s;%s;%d\n", p, []string{"child", "adult"}[p%2], []string{"f", "m", "?"}[p%3], 3*p)
		for _, name := range []string{"aortic_%s_1", "aortic_%s_2", "mitral_%s_1", "tricuspid_%s_2"} {
			stem := fmt.Sprintf("person-%03d/"+name, p, []string{"N", "MR", "AS"}[p%3])
			files[stem+".wav"] = "2000 3"
			files[stem+".txt"] = "1\t201\t1\n201\t601\t2\n601\t801\t3\n801\t1601\t4\n1601\t1801\t1\n"
		}
	}
	files["people.txt"] = people
	root := plant(t, files)
	s := openLayout(t, root, root+"/hospital.yaml")
	inv, err := s.Scan(t.Context(), fakeProbe, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Recordings) != 100 || inv.People != 25 || inv.PersonUnknown != 0 || inv.Annotations != 100 || inv.S1 != 200 || len(inv.Defects) > 0 || len(s.Warnings) > 0 {
		t.Errorf("%d recordings of %d people, %d annotations with %d S1; %v, %v", len(s.Recordings), inv.People, inv.Annotations, inv.S1, places(inv.Defects), s.Warnings)
	}
	r := &s.Recordings[7]
	if got := fmt.Sprint(r.ID, r.Person, r.Site, r.Take, r.Labels.String()); got != "person-002/tricuspid_AS_2002tricuspid2condition=aortic stenosis age_group=child sex= age_years=6" {
		t.Errorf("recording %s", got)
	}
}

package pipeline

import (
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/table"
)

// matlabElement writes a data element of a MATLAB level 5 file.
func matlabElement(kind uint32, data []byte) []byte {
	b := binary.LittleEndian.AppendUint32(nil, kind)
	b = append(binary.LittleEndian.AppendUint32(b, uint32(len(data))), data...)
	return append(b, make([]byte, -len(data)&7)...)
}

func matlabArray(class uint32, rows, columns int, name string, content []byte) []byte {
	flags := binary.LittleEndian.AppendUint64(nil, uint64(class))
	size := binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(nil, uint32(rows)), uint32(columns))
	body := append(matlabElement(6, flags), matlabElement(5, size)...)
	body = append(append(body, matlabElement(1, []byte(name))...), content...)
	return matlabElement(14, body)
}

// matlabStates writes starts and states as the variable state_ans.
func matlabStates(starts []int64, states []string) []byte {
	var content []byte
	for _, n := range starts {
		content = append(content, matlabArray(12, 1, 1, "", matlabElement(5, binary.LittleEndian.AppendUint32(nil, uint32(n))))...)
	}
	for _, s := range states {
		name := matlabArray(4, 1, len(s), "", matlabElement(16, []byte(s)))
		content = append(content, matlabArray(1, 1, 1, "", name)...)
	}
	header := fmt.Sprintf("%-124s\x00\x01IM", "MATLAB 5.0 MAT-file")
	return append([]byte(header), matlabArray(1, len(starts), 2, "state_ans", content)...)
}

// copyAsCinc2016 copies recordings to where layout cinc2016 looks for them, under
// the names a0001, a0002 and so on.
func copyAsCinc2016(t *testing.T, src config.Input) (copied config.Input, names map[string]string) {
	t.Helper()
	layout, err := dataset.LoadLayout(src.Layout)
	if err != nil {
		t.Fatal(err)
	}
	set, err := dataset.Open(src.Data, layout)
	if err != nil {
		t.Fatal(err)
	}
	defer set.Close()
	copied, names = config.Input{Data: t.TempDir(), Layout: "cinc2016"}, map[string]string{}
	for _, folder := range []string{"training-a", "annotations/hand_corrected/training-a_StateAns"} {
		if err := os.MkdirAll(filepath.Join(copied.Data, folder), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	for i, rec := range set.Recordings {
		audio, err := os.ReadFile(filepath.Join(src.Data, rec.Audio))
		if err != nil {
			t.Fatal(err)
		}
		names[rec.ID] = fmt.Sprintf("a%04d", i+1)
		writeText(t, filepath.Join(copied.Data, "training-a", names[rec.ID]+".wav"), string(audio))
	}
	return copied, names
}

// States that a method found, written as the data set ships its states, are a
// reference that the same method meets in every sound.
func TestMatlabReferenceOfAMethodIsMetByIt(t *testing.T) {
	const method, rate = "duration-hmm", 4000
	src := atRest(t, 2)
	copied, names := copyAsCinc2016(t, src)
	for id, rows := range predictionRows(t, segmented(t, src, method, nil)) {
		var starts []int64
		var states []string
		for _, r := range rows {
			starts, states = append(starts, 1+r.Start.Microseconds()*rate/1e6), append(states, r.State)
		}
		path := filepath.Join(copied.Data, "annotations/hand_corrected/training-a_StateAns", names[id]+"_StateAns.mat")
		writeText(t, path, string(matlabStates(starts, states)))
	}
	c := configFor(t, copied)
	c.Method = method
	report := run(t, c)
	if h := report.Summary.HeadlineRow; h.TP < 20 || h.FP != 0 || h.FN != 0 || h.F1 != 1 {
		t.Errorf("%d true, %d false, %d missed", h.TP, h.FP, h.FN)
	}
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](c.Out)) {
		if err != nil || row.ReferenceKind != "starts" || row.ReferenceNote != "" || *row.Rate != rate {
			t.Errorf("%s: %s, %s at %d Hz, %v", row.Recording, row.ReferenceKind, row.ReferenceNote, *row.Rate, err)
		}
	}
}

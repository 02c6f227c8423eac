package dataset

import (
	"errors"
	"reflect"

	"github.com/goccy/go-yaml/ast"

	"phonocycle/pipeline/yamlcheck"
)

// TrainingList names the people that another program learnt from: as the format
// lists them, or in a file, or in a list that the program brings along.
type TrainingList struct {
	People []string // as the column person of the table recordings names them
	List   string   // name of an embedded list or of a file, which may be below the folder of the format; empty for People
}

// declaration reads the key fitted-on: one list, or under folds one for each fold.
func (f *Format) declaration() error {
	switch node := f.FittedOn.(type) {
	case nil, *ast.NullNode:
		return nil
	case *ast.MappingNode, *ast.MappingValueNode:
		var byFold struct {
			Folds []ast.Node `yaml:"folds"`
		}
		if err := yamlcheck.DecodeNode("fitted-on", node, &byFold); err != nil {
			return err
		}
		const least = 2
		if len(byFold.Folds) < least {
			return errors.New("folds needs a list for each fold of a cross-validation, at least two")
		}
		f.DeclaresFolds = true
		for _, node := range byFold.Folds {
			if err := f.addTrainingList(node); err != nil {
				return err
			}
		}
		return nil
	default:
		return f.addTrainingList(node)
	}
}

// addTrainingList reads a list of people, or the name of one.
func (f *Format) addTrainingList(node ast.Node) error {
	l := TrainingList{People: []string{}}
	if list, ok := node.(*ast.SequenceNode); ok {
		for _, item := range list.Values {
			id, err := idOf(item)
			if err != nil {
				return err
			}
			l.People = append(l.People, id)
		}
	} else {
		var err error
		if l.List, err = idOf(node); err != nil {
			return err
		}
	}
	f.Training = append(f.Training, l)
	return nil
}

// idOf returns a single value as it is written: 0012 is an id and no number.
func idOf(node ast.Node) (string, error) {
	scalar, ok := node.(ast.ScalarNode)
	if !ok || scalar.GetToken().Value == "" {
		return "", errors.New("want the ids of people as a list, or the name of a list")
	}
	return scalar.GetToken().Value, nil
}

// DescribesText reports whether the format says anything about files of text: one
// that only declares training data belongs to Parquet files.
func (f *Format) DescribesText() bool {
	return f.Rate != 0 || !reflect.ValueOf(f.ReferenceRule).IsZero()
}

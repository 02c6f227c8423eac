package main

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// A mutation replaces the bytes [from, to) of a file.
type mutation struct {
	file     string
	source   []byte
	from, to int
	with     string
}

func (m *mutation) apply() []byte {
	return slices.Concat(m.source[:m.from], []byte(m.with), m.source[m.to:])
}

// String shows the place, and what is changed within its lines.
func (m *mutation) String() string {
	start := bytes.LastIndexByte(m.source[:m.from], '\n') + 1
	rest, _, _ := bytes.Cut(m.source[m.to:], []byte("\n"))
	before, after := string(m.source[start:m.to])+string(rest), string(m.source[start:m.from])+m.with+string(rest)
	oneLine := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	return fmt.Sprintf("%s:%d: %s -> %s", m.file, 1+bytes.Count(m.source[:m.from], []byte("\n")), oneLine(before), oneLine(after))
}

// packageMutations lists the mutations of the files of a package that this machine
// compiles, without its tests.
func packageMutations(target string) ([]mutation, error) {
	output, err := exec.Command("go", "list", "-f", "{{.Dir}}{{range .GoFiles}} {{.}}{{end}}", target).CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("go list %s: %w: %s", target, err, output)
	}
	names := strings.Fields(string(output))
	var f mutator
	for _, name := range names[1:] {
		f.name = filepath.Join(names[0], name)
		if f.source, err = os.ReadFile(f.name); err != nil {
			return nil, err
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, f.name, f.source, parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		f.file = set.File(file.FileStart)
		ast.Inspect(file, f.node)
	}
	return f.list, nil
}

// A mutator collects the mutations of one file after the other.
type mutator struct {
	name   string
	source []byte
	file   *token.File
	list   []mutation
}

// replace adds a mutation for each of the texts to put between two places.
func (f *mutator) replace(from, to token.Pos, with ...string) {
	for _, text := range with {
		f.list = append(f.list, mutation{f.name, f.source, f.file.Offset(from), f.file.Offset(to), text})
	}
}

// operators holds what each operator is changed to. What has no meaning for the
// type of its operands does not compile.
var operators = map[token.Token][]string{
	token.EQL: {"!="}, token.NEQ: {"=="},
	token.LSS: {"<=", ">="}, token.LEQ: {"<", ">"}, token.GTR: {">=", "<="}, token.GEQ: {">", "<"},
	token.LAND: {"||"}, token.LOR: {"&&"},
	token.ADD: {"-"}, token.SUB: {"+"}, token.MUL: {"/"}, token.QUO: {"*"}, token.REM: {"*"},
	token.AND: {"|"}, token.OR: {"&"}, token.XOR: {"&"}, token.SHL: {">>"}, token.SHR: {"<<"},
	token.ADD_ASSIGN: {"-=", "="}, token.SUB_ASSIGN: {"+=", "="}, token.MUL_ASSIGN: {"/=", "="}, token.QUO_ASSIGN: {"*=", "="},
	token.OR_ASSIGN: {"&=", "="}, token.AND_ASSIGN: {"|=", "="},
	token.INC: {"--"}, token.DEC: {"++"},
}

func (f *mutator) operator(at token.Pos, t token.Token) {
	f.replace(at, at+token.Pos(len(t.String())), operators[t]...)
}

func (f *mutator) node(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.ImportSpec, *ast.StructType:
		return false // no code: paths, tags
	case *ast.BinaryExpr:
		f.operator(n.OpPos, n.Op)
	case *ast.UnaryExpr:
		if n.Op == token.NOT || n.Op == token.SUB {
			f.replace(n.Pos(), n.X.Pos(), "")
		}
	case *ast.BasicLit:
		f.constant(n)
	case *ast.Ident:
		if other, ok := map[string]string{"true": "false", "false": "true"}[n.Name]; ok {
			f.replace(n.Pos(), n.End(), other)
		}
	case *ast.IfStmt:
		condition := "(" + string(f.source[f.file.Offset(n.Cond.Pos()):f.file.Offset(n.Cond.End())]) + ")"
		f.replace(n.Cond.Pos(), n.Cond.End(), "!"+condition)
		if leaves(n) {
			f.replace(n.Cond.Pos(), n.Cond.End(), "false && "+condition)
		}
	case *ast.IncDecStmt:
		f.operator(n.TokPos, n.Tok)
	case *ast.AssignStmt:
		f.operator(n.TokPos, n.Tok)
		f.dropAssignment(n)
	case *ast.ExprStmt, *ast.BranchStmt, *ast.DeferStmt:
		f.replace(n.Pos(), n.End(), "")
	}
	return true
}

func (f *mutator) constant(n *ast.BasicLit) {
	if n.Kind != token.INT && n.Kind != token.FLOAT {
		return
	}
	f.replace(n.Pos(), n.End(), "("+n.Value+" + 1)")
	if strings.Trim(n.Value, "0.") != "" {
		f.replace(n.Pos(), n.End(), "0")
	}
}

// leaves reports whether a condition only leaves the function, the loop or its turn,
// such as the return of an error.
func leaves(n *ast.IfStmt) bool {
	if len(n.Body.List) != 1 || n.Else != nil {
		return false
	}
	switch n.Body.List[0].(type) {
	case *ast.ReturnStmt, *ast.BranchStmt:
		return true
	}
	return false
}

// dropAssignment assigns to nothing, so that the right side is still used.
func (f *mutator) dropAssignment(n *ast.AssignStmt) {
	if n.Tok == token.DEFINE {
		return
	}
	blanks := strings.TrimSuffix(strings.Repeat("_, ", len(n.Lhs)), ", ")
	f.replace(n.Pos(), n.TokPos+token.Pos(len(n.Tok.String())), blanks+" =")
}

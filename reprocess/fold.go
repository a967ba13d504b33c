package reprocess

// FoldVersion numbers how entries fold into entities. Raise it whenever Apply or an entity's
// JSON changes: a folder whose read tables an earlier fold wrote is then folded anew when it
// is next opened. It only ever grows. A test keeps the fold of a fixed history beside it.
const FoldVersion = 4

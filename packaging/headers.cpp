// Stands for the files that include the shared headers; see CMakeLists.txt.

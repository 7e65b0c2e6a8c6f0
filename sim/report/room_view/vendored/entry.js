// What the room picture uses of the library, and nothing else: `take` makes three.js of this list.
export {
    BufferGeometry,
    CanvasTexture,
    Color,
    DataTexture,
    Float32BufferAttribute,
    Mesh,
    MeshBasicMaterial,
    NearestFilter,
    PerspectiveCamera,
    Raycaster,
    RepeatWrapping,
    Scene,
    ShapeUtils,
    SRGBColorSpace,
    Vector2,
    Vector3,
    WebGLRenderer,
} from 'three';
export { OrbitControls } from 'three/examples/jsm/controls/OrbitControls.js';
export { LineMaterial } from 'three/examples/jsm/lines/LineMaterial.js';
export { LineSegments2 } from 'three/examples/jsm/lines/LineSegments2.js';
export { LineSegmentsGeometry } from 'three/examples/jsm/lines/LineSegmentsGeometry.js';
